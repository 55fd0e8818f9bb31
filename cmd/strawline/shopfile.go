package main

import (
	"errors"
	"io/fs"
	"path/filepath"

	"strawline/control"
	"strawline/control/keeper"
	"strawline/control/shop"
	"strawline/probe/lines"
	"strawline/probe/modbus"
	"strawline/probe/port"
)

// shopFiles is the shop file of a person, with what the program found beside it.
type shopFiles struct {
	path  string
	shop  *shop.Shop
	found shop.Found
}

// shopPath is where the shop file is: where the person says, or in the configuration folder
// after the XDG base directory specification.
func (h *host) shopPath(asked string) string {
	if asked != "" {
		return asked
	}
	return filepath.Join(filepath.Dir(h.profileFolder()), "shop.toml")
}

// shopFiles reads the shop file and found.toml beside it.
func (h *host) shopFiles(asked string) (*shopFiles, error) {
	path := h.shopPath(asked)
	s, err := shop.Load(path)
	if err != nil {
		f := &fault{code: exitData, wrong: err}
		if errors.Is(err, fs.ErrNotExist) {
			f = &fault{code: exitNoInput, did: "read", to: path, wrong: fs.ErrNotExist,
				help: "write a shop file there (README.md shows one), " +
					"or say --port"}
		}
		return nil, f
	}
	found, err := shop.NewStore(shop.FoundPath(path)).Load()
	if err != nil {
		return nil, &fault{code: exitData, wrong: err}
	}
	return &shopFiles{path: path, shop: s, found: found}, nil
}

// oven gives the oven of that name, or the only one.
func (b *shopFiles) oven(name string) (*shop.Oven, error) {
	if name == "" && len(b.shop.Ovens) == 1 {
		return &b.shop.Ovens[0], nil
	}
	var names []string
	for _, o := range b.shop.Ovens {
		if o.Name == name {
			return b.shop.Oven(name), nil
		}
		names = append(names, o.Name)
	}
	f := &fault{code: exitConfig, did: "find", to: "the oven " + name + " in " + b.path,
		wrong: errors.New("there is none of that name")}
	switch {
	case len(names) == 0:
		f.to, f.wrong = "an oven in "+b.path, errors.New("it has none")
	case name == "":
		f.code, f.to, f.wrong = exitUsage, "the oven", errors.New("the shop file has several")
		f.help = "say which: --oven " + names[0]
	default:
		f.help = "did you mean " + nearest(name, names) + "?"
	}
	return nil, f
}

// probesOf gives the probes of an oven's board in the order of their channels, with those that
// no probe stands on left empty. The first is the one for the oven air.
func (b *shopFiles) probesOf(o *shop.Oven) ([]*shop.Probe, *shop.Board, error) {
	var air *shop.Probe
	for _, name := range o.Probes {
		if p := b.shop.Probe(name); p != nil && p.Use == shop.OvenAir && air == nil {
			air = p
		}
	}
	if air == nil {
		return nil, nil, &fault{code: exitConfig, did: "find", to: "the probe in the air of " + o.Name,
			wrong: errors.New("none has the use oven air"), help: "say so in " + b.path}
	}
	out := make([]*shop.Probe, air.Channel, shop.MaxChannel)
	for i := range b.shop.Probes {
		p := &b.shop.Probes[i]
		if p.Board != air.Board {
			continue
		}
		for len(out) < p.Channel {
			out = append(out, nil)
		}
		out[p.Channel-1] = p
	}
	return out, b.shop.Board(air.Board), nil
}

// model gives how an oven answers its heater, and where that is from; nil if nobody knows.
func (b *shopFiles) model(o *shop.Oven) *control.ModelInfo {
	p := shop.PickModel(b.shop, b.found, o.Name)
	if p.Origin == shop.FromNowhere {
		return nil
	}
	return modelInfo(p)
}

func modelInfo(p shop.Pick[shop.Model]) *control.ModelInfo {
	m := p.Value
	i := &control.ModelInfo{RiseC: float64(m.Rise), TimeS: m.TimeConstant.Seconds(),
		SlopeCS: m.Slope, SecondS: m.Second.Seconds(), DeadS: m.DeadTime.Seconds(),
		HoldPM: 1000 * m.Hold, HoldC: float64(m.HoldAt), NoiseC: float64(m.Noise), From: p.Words(),
		SwingSlopeCS: m.SwingSlope, SwingLagS: m.SwingLag.Seconds(),
		SwingDeadS: m.SwingDead.Seconds(), StartS: m.StartLag.Seconds()}
	if m.Slope == 0 {
		i.SlopeCS = i.RiseC / i.TimeS
	}
	return i
}

func gainsInfo(p shop.Pick[shop.Gains]) control.Gains {
	return control.Gains{Kp: p.Value.Kp, TiS: p.Value.Ti.Seconds(), TdS: p.Value.Td.Seconds(),
		Weight: p.Value.Weight, From: p.Words()}
}

// output says how an oven's heat is switched.
func (b *shopFiles) output(o *shop.Oven, cfg *keeper.Config) {
	if o.Output == nil {
		return
	}
	cfg.Window, cfg.MainsHz = o.Output.Window, o.Output.MainsHz
	if o.Output.Contactor {
		cfg.Contactor = &control.Contactor{DeadbandC: float64(o.Output.Deadband),
			MinOnS: o.Output.LeastOn.Seconds(), MinOffS: o.Output.LeastOff.Seconds()}
	}
}

// correction gives what is added to a probe's readings, and where it is from; one that was found
// before the probe was fitted is another probe's and is left out.
func (b *shopFiles) correction(p *shop.Probe) control.Correction {
	pick := shop.PickCorrection(b.shop, b.found, p.Name)
	if pick.Origin == shop.FromNowhere || pick.Outdated {
		return control.Correction{}
	}
	c := control.Correction{OffsetC: float64(pick.Value.Offset), From: pick.Words()}
	for _, at := range pick.Value.Points {
		c.PointsC = append(c.PointsC, [2]float64{float64(at.Reads), float64(at.Is)})
	}
	return c
}

// wire says how a board of the shop file is opened and what it speaks.
func wire(b *shop.Board) (port.Opener, port.Config, error) {
	cfg := port.Config{Name: b.Port}
	switch b.Kind {
	case shop.Lines:
		hint, err := lineHint(b.Lines)
		if err != nil {
			return nil, cfg, &fault{code: exitConfig, did: "read", to: "board " + b.Name, wrong: err}
		}
		cfg.Sketch = &port.Sketch{Hint: hint}
	case shop.Modbus:
		m, err := modules(b)
		if err != nil {
			return nil, cfg, &fault{code: exitConfig, did: "read", to: "board " + b.Name, wrong: err}
		}
		cfg.Modules = &m
	}
	return port.OpenLine(b.Port, port.Line{Baud: b.Baud, Parity: b.Parity}), cfg, nil
}

// lineHint puts the shop file's words on printed lines into those of the reader.
func lineHint(l shop.LinesHints) (lines.Hint, error) {
	h := lines.Hint{Chip: l.Chip}
	if l.HasUnit {
		h.Unit = &l.Unit
	}
	if l.Decimal != "" {
		comma := l.Decimal == ","
		h.DecimalComma = &comma
	}
	role := lines.Hot
	if l.Chip != "" {
		role = lines.Word
	}
	for i, c := range l.Columns {
		h.Columns = place(h.Columns, c, role, i+1)
	}
	h.Columns = place(h.Columns, l.ColdColumn, lines.Cold, 0)
	h.Rest = len(h.Columns) > 0
	return h, nil
}

// place puts one column into the reader's list, which goes from left to right.
func place(list []lines.Column, c shop.Column, r lines.Role, channel int) []lines.Column {
	if c.Label != "" {
		return append(list, lines.Column{Label: c.Label, Role: r, Channel: channel})
	}
	for len(list) < c.Number {
		list = append(list, lines.Column{Role: lines.Skip})
	}
	if c.Number > 0 {
		list[c.Number-1] = lines.Column{Role: r, Channel: channel}
	}
	return list
}

// modules puts the shop file's channels into the port's.
func modules(b *shop.Board) (port.Modules, error) {
	m := port.Modules{Baud: b.Baud}
	for i, c := range b.Channels {
		if c.Number != i+1 {
			return m, errors.New("its channels must be numbered from 1 without a hole")
		}
		typ, err := modbus.ParseType(c.Type)
		if err != nil {
			return m, err
		}
		order, err := modbus.ParseOrder(c.WordOrder)
		if err != nil {
			return m, err
		}
		f := modbus.Format{Type: typ, Order: order, Scale: c.Scale,
			Low: c.Low.In(c.Unit), High: c.High.In(c.Unit)}
		if err := f.Check(); err != nil {
			return m, err
		}
		m.Channels = append(m.Channels, port.Module{Unit: byte(c.Address),
			Function: modbus.Function(c.Function), Register: uint16(c.Register), Format: f, In: c.Unit})
	}
	return m, nil
}
