package main

import (
	"errors"
	"syscall"

	"strawline/control/shop"
	"strawline/probe/port"
	"strawline/probe/temp"
)

// interrupt is how one leaves what has no end of its own.
const interrupt = syscall.SIGINT

// listenSource is what is listened to.
type listenSource struct {
	path   string
	files  *shopFiles
	known  *shop.Board // of the shop file; nil if it has none on this port
	kind   shop.Kind   // "" to be told by what comes
	speeds []int       // the one, or those to try
}

// board gives the board as it is listened to: that of the shop file with what the person gave.
func (s *listenSource) board(baud int) shop.Board {
	b := shop.Board{Name: newName, Kind: shop.Lines}
	if s.known != nil {
		b = *s.known
	}
	if s.kind != "" {
		b.Kind = s.kind
	}
	b.Port, b.Baud = s.path, baud
	return b
}

// source finds out what is to be listened to.
func (h *host) source(f *listenFlags, path string) (*listenSource, error) {
	asked := f.shop
	if f.board != "" && asked == "" {
		asked = h.shopPath("") // a board of a shop file that cannot be read is none
	}
	files, err := h.anyShop(asked)
	if err != nil {
		return nil, err
	}
	s := &listenSource{path: path, files: files}
	switch {
	case f.board != "":
		if s.known, err = files.boardNamed(f.board); err != nil {
			return nil, err
		}
	case path == "" && len(files.shop.Boards) == 1:
		s.known = &files.shop.Boards[0]
	case path == "":
		if s.path, err = onlyPort("/"); err != nil {
			return nil, err
		}
		fallthrough
	default:
		s.known = files.boardOn(port.Found{Node: s.path, Names: []string{s.path}}, "/")
	}
	if s.known != nil {
		s.kind, s.speeds = s.known.Kind, []int{s.known.Baud}
		if s.path == "" {
			s.path = s.known.Port
		}
	}
	if f.kind.word != "" && s.kind != shop.Kind(f.kind.word) {
		s.kind, s.speeds = shop.Kind(f.kind.word), nil
	}
	if f.baud != 0 {
		s.speeds = []int{f.baud}
	}
	if len(s.speeds) == 0 {
		s.speeds = speeds(s.kind)
	}
	at := s.board(s.speeds[0])
	_, _, err = wire(&at)
	return s, err
}

// boardNamed gives the board of that name.
func (b *shopFiles) boardNamed(name string) (*shop.Board, error) {
	if at := b.shop.Board(name); at != nil {
		return at, nil
	}
	var names []string
	for _, at := range b.shop.Boards {
		names = append(names, at.Name)
	}
	f := &fault{code: exitConfig, did: "find", to: "the board " + name + " in " + b.path,
		wrong: errors.New("there is none of that name")}
	if near := nearest(name, names); near != "" {
		f.help = "did you mean " + near + "?"
	}
	return nil, f
}

// probeOn gives the probe of the shop file on a channel, nil if it has none.
func (s *listenSource) probeOn(channel int) *shop.Probe {
	if s.known == nil {
		return nil
	}
	for i := range s.files.shop.Probes {
		p := &s.files.shop.Probes[i]
		if p.Board == s.known.Name && p.Channel == channel {
			return p
		}
	}
	return nil
}

// unit is in which the shop file shows temperatures.
func (s *listenSource) unit() temp.Unit { return s.files.shop.Unit }

// boardName is that of the shop file, "" if it has none on this port.
func (s *listenSource) boardName() string {
	if s.known == nil {
		return ""
	}
	return s.known.Name
}
