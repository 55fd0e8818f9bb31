package port

import (
	"math"
	"time"

	"strawline/probe"
	"strawline/probe/lines"
	"strawline/probe/modbus"
	"strawline/probe/temp"
	"strawline/probe/thermocouple"
)

// other is a board that speaks something else than our protocol. It is for reading only: no
// duty, reset or setting ever goes to it, since only Command and its kin send those, and they
// need a handshake that such a board cannot do.
type other interface {
	opened()
	feed(now time.Duration, p []byte) // bytes that came
	tend(now time.Duration)           // asks what is due
	interval() time.Duration          // between two readings of a channel; 0 not known
}

// staleMost is how long a slow board may be quiet: three of its intervals, but no more.
const staleMost = 30 * time.Second

// silence is how long without a good line the link counts as up.
func (p *Port) silence() time.Duration {
	if p.other == nil {
		return p.cfg.Silence
	}
	return max(p.cfg.Silence, min(3*p.other.interval(), staleMost))
}

// Sketch says that the board prints lines of its own.
type Sketch struct {
	Hint  lines.Hint
	Shape *lines.Shape // learnt before; nil learns it from the first lines
}

// sketch reads such a board.
type sketch struct {
	p    *Port
	chip string
	r    *lines.Reader
	now  time.Duration
	seen [lines.MaxChannels + 1]bool
}

func newSketch(p *Port, s Sketch) (*sketch, error) {
	r := lines.New(s.Hint)
	if s.Shape != nil {
		var err error
		if r, err = lines.NewShaped(*s.Shape, s.Hint); err != nil {
			return nil, err
		}
	}
	return &sketch{p: p, chip: s.Hint.Chip, r: r}, nil
}

func (s *sketch) opened()                          { s.r.Reset() }
func (s *sketch) tend(time.Duration)               {}
func (s *sketch) feed(now time.Duration, p []byte) { s.now = now; s.r.Feed(now, p, s.item) }

func (s *sketch) interval() time.Duration {
	for c := 1; c <= lines.MaxChannels; c++ {
		if d, ok := s.r.Interval(c); ok {
			return d
		}
	}
	return 0
}

func (s *sketch) item(it lines.Item) {
	p := s.p
	r := probe.Reading{At: it.At, Channel: it.Channel, Fault: it.Fault}
	switch it.Kind {
	case lines.Value:
		r.Hot, r.Raw = it.Hot, printed(it.Hot)
		if it.HasCold {
			r.Cold, r.HasCold = it.Cold, true
		}
	case lines.Raw:
		if s.chip == "" {
			return // never a temperature while nobody says which chip it is
		}
		r.Raw = it.Raw
		r.Hot, r.Cold, r.Fault = thermocouple.Decode(s.chip, it.Raw)
		r.HasCold = r.Fault == probe.FaultNone
	case lines.Fault:
	case lines.Gap:
		if it.Why == lines.WhyAgain || it.Why == lines.WhyCount {
			p.batch.Boots = append(p.batch.Boots, probe.Board{Name: "the sketch", Cause: it.Why})
		}
		return
	default:
		p.link.Bad++
		return
	}
	p.good(s.now)
	if r.Channel != 0 {
		s.seen[r.Channel] = true
		p.batch.Readings = append(p.batch.Readings, r)
		return
	}
	for c, is := range s.seen { // a fault that names no channel may be any one's
		if is {
			r.Channel = c
			p.batch.Readings = append(p.batch.Readings, r)
		}
	}
}

// printed is what stands for a chip's word where a board gives numbers: the temperature in °C as
// an IEEE 754 single.
func printed(c temp.C) uint32 { return math.Float32bits(float32(c)) }

// Modules are temperature modules on Modbus RTU.
type Modules struct {
	Baud     int
	Every    time.Duration // a round of all channels; 1 s if 0
	Wait     time.Duration // for an answer; the package's default if 0
	Channels []Module      // channel 1 first
}

// Module is one channel of a module.
type Module struct {
	Unit     byte
	Function modbus.Function
	Register uint16
	Format   modbus.Format // of a number in °C, or in °F
	In       temp.Unit
}

// modules reads them, one request after another.
type modules struct {
	p    *Port
	cfg  Modules
	m    *modbus.Master
	next int           // channel that is asked next
	due  time.Duration // of the next round
}

func newModules(p *Port, cfg Modules) *modules {
	if cfg.Every <= 0 {
		cfg.Every = time.Second
	}
	m := &modules{p: p, cfg: cfg}
	m.opened()
	return m
}

func (m *modules) opened() {
	m.m = modbus.NewMaster(m.cfg.Baud, m.cfg.Wait, 0)
	m.next = 0
}

func (m *modules) interval() time.Duration { return m.cfg.Every }

func (m *modules) feed(now time.Duration, p []byte) { m.result(now, m.m.Feed(now, p)) }

func (m *modules) tend(now time.Duration) {
	m.result(now, m.m.Feed(now, nil))
	if m.m.Open() || now < m.m.Ready() || m.next == 0 && now < m.due {
		return
	}
	if m.next == 0 {
		m.due = now + m.cfg.Every
	}
	c := m.cfg.Channels[m.next]
	frame, err := m.m.Ask(now, modbus.Request{Unit: c.Unit, Function: c.Function,
		Register: c.Register, Count: uint16(c.Format.Type.Registers())})
	if err != nil {
		m.step()
		return
	}
	m.p.write(now, frame)
}

func (m *modules) step() { m.next = (m.next + 1) % len(m.cfg.Channels) }

// result takes what became of a request. Whatever is not a good answer is no reading; an
// exception is the module's own word that it has none.
func (m *modules) result(now time.Duration, r modbus.Result) {
	if r.Outcome == modbus.Waiting {
		return
	}
	c := m.cfg.Channels[m.next]
	reading := probe.Reading{At: now, Channel: m.next + 1}
	m.step()
	switch r.Outcome {
	case modbus.Good:
		v, fault := c.Format.Value(r.Data)
		switch fault {
		case modbus.FaultNone:
			reading.Hot = temp.C(v)
			if c.In == temp.Fahrenheit {
				reading.Hot = temp.F(v)
			}
		case modbus.FaultEnd, modbus.FaultNaN:
			reading.Fault = probe.FaultOpen // what modules send for an open probe (from memory)
		default:
			reading.Fault = probe.FaultRange
		}
		for _, b := range r.Data {
			reading.Raw = reading.Raw<<8 | uint32(b)
		}
	case modbus.Refused:
		reading.Fault = probe.FaultNoChip
	default:
		m.p.link.Bad++
		m.p.batch.Notes = append(m.p.batch.Notes, r.String())
		return
	}
	m.p.good(now)
	m.p.batch.Readings = append(m.p.batch.Readings, reading)
}

// Understood is what the lines of a sketch were taken for.
type Understood struct {
	Sentence  string // for a person to confirm
	Shape     lines.Shape
	Questions []lines.Question // that the shop file has to answer
}

// Understood says what the lines of a sketch were taken for; ok is false while that is not known.
func (p *Port) Understood() (u Understood, ok bool) {
	s, is := p.other.(*sketch)
	if !is {
		return u, false
	}
	u.Shape, u.Sentence, ok = s.r.Understood()
	u.Questions = s.r.Questions()
	return u, ok
}
