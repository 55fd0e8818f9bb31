package attach

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"time"

	"strawline/control"
)

// Version is that of the lines; two sides of different versions do not talk.
const Version = 2

// MostLine is the longest line that is read, in bytes with its newline: our choice, some hundred
// times a Snapshot.
const MostLine = 1 << 20

// pastsAtOnce is how many spans of the past one line carries, so that it stays far below
// MostLine.
const pastsAtOnce = 1000

// Hello is how both sides begin.
type Hello struct {
	Version int    `json:"version"`
	Build   string `json:"build"`          // of the program, for messages
	Name    string `json:"name,omitempty"` // of the screen: its terminal; of the keeper: its shop
	Runs    []Run  `json:"runs,omitempty"` // the keeper's
}

// Run is one run as a keeper lists it.
type Run struct {
	Name  string        `json:"name"`
	Phase control.Phase `json:"phase"`
	Out   string        `json:"out"`           // path of the run file
	Why   string        `json:"why,omitempty"` // why it waits for a person; "" if it does not
}

// Outcome is how a run ended.
type Outcome struct {
	Word       string `json:"word"` // "done", "stopped", "tripped" or "late"
	Why        string `json:"why"`
	Out        string `json:"out"`                  // path of the run file
	Off        string `json:"off,omitempty"`        // what stands of the heat
	Left       string `json:"left,omitempty"`       // what the end leaves in the oven
	Unanswered bool   `json:"unanswered,omitempty"` // the board did not answer the last duty 0
	Failed     string `json:"failed,omitempty"`     // what went wrong with run or file
	Unkept     string `json:"unkept,omitempty"`     // why what the run found was not kept beside it
}

// Lease says who may raise the heat of a run.
type Lease struct {
	Name string `json:"name"` // the screen's name; "" while nobody has it
	Mine bool   `json:"mine"`
}

// Refusal is what a keeper says no with; Code is an exit code of sysexits(3).
type Refusal struct {
	Code int    `json:"code"`
	Text string `json:"text"` // one line
}

// Error gives the line.
func (r *Refusal) Error() string { return r.Text }

// Job is a run that a keeper is asked to begin. What its arguments mean is not this package's.
type Job struct {
	Args   []string `json:"args"`
	Folder string   `json:"folder"` // that relative paths start from
	Env    []string `json:"env"`    // NAME=value
}

// message is one line; one field of it is set.
type message struct {
	Hello  *Hello   `json:"hello,omitempty"`
	Start  *Job     `json:"start,omitempty"`
	Watch  *string  `json:"watch,omitempty"`
	GiveUp *string  `json:"give_up,omitempty"` // an unfinished run
	Answer *answer  `json:"answer,omitempty"`
	Past   *pasts   `json:"past,omitempty"`
	Snap   *snap    `json:"snap,omitempty"`
	Ask    *asked   `json:"ask,omitempty"`
	Take   bool     `json:"take,omitempty"`
	Lease  *Lease   `json:"lease,omitempty"`
	Over   *Outcome `json:"over,omitempty"`
}

type answer struct {
	ID      uint64   `json:"id,omitempty"` // of the ask
	Run     string   `json:"run,omitempty"`
	Refusal *Refusal `json:"refusal,omitempty"`
}

type asked struct {
	ID  uint64      `json:"id"`
	Ask control.Ask `json:"ask"`
}

// pasts are spans of the past from the one at place From on.
type pasts struct {
	From  int            `json:"from"`
	Spans []control.Past `json:"spans"`
}

// snap is a Snapshot; its Info comes with the first only, and what JSON leaves out of its alarms
// stands beside it.
type snap struct {
	control.Snapshot
	Since []time.Duration `json:"since,omitempty"` // of each alarm
}

func newSnap(s control.Snapshot, info bool) *snap {
	w := &snap{Snapshot: s}
	if !info {
		w.Info = nil
	}
	for _, a := range s.Alarms {
		w.Since = append(w.Since, a.Since)
	}
	return w
}

// snapshot gives it back; info is that of the connection.
func (w *snap) snapshot(info *control.Info) control.Snapshot {
	s := w.Snapshot
	if s.Info == nil {
		s.Info = info
	}
	for i := range s.Alarms {
		if i < len(w.Since) {
			s.Alarms[i].Since = w.Since[i]
		}
	}
	return s
}

// encode gives the line of m.
func encode(m message) ([]byte, error) {
	line, err := json.Marshal(m)
	if err != nil {
		return nil, fmt.Errorf("attach: %w", err)
	}
	if len(line) >= MostLine {
		return nil, fmt.Errorf("attach: a line of %d bytes is too long", len(line))
	}
	return append(line, '\n'), nil
}

// errLine says that a line is none of this protocol.
var errLine = errors.New("attach: not a line of the keeper's")

// decode reads a line without its newline.
func decode(line []byte) (message, error) {
	var m message
	if err := json.Unmarshal(line, &m); err != nil {
		return message{}, fmt.Errorf("%w: %v", errLine, err)
	}
	n := 0
	for _, has := range []bool{m.Hello != nil, m.Start != nil, m.Watch != nil, m.GiveUp != nil,
		m.Answer != nil,
		m.Past != nil, m.Snap != nil, m.Ask != nil, m.Take, m.Lease != nil, m.Over != nil} {
		if has {
			n++
		}
	}
	if n > 1 {
		return message{}, fmt.Errorf("%w: it says %d things at once", errLine, n)
	}
	if p := m.Past; p != nil && p.From < 0 {
		return message{}, fmt.Errorf("%w: a past before the start", errLine)
	}
	return m, nil
}

// lines reads messages. A line that is too long ends the reading.
type lines struct{ s *bufio.Scanner }

func newLines(r io.Reader) lines {
	s := bufio.NewScanner(r)
	s.Buffer(make([]byte, 0, 4096), MostLine)
	return lines{s}
}

func (l lines) next() (message, error) {
	if !l.s.Scan() {
		if err := l.s.Err(); err != nil {
			return message{}, err
		}
		return message{}, io.EOF
	}
	return decode(l.s.Bytes())
}
