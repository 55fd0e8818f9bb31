package shop

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"strawline/probe/temp"
)

// pen writes TOML. A zero value is left out; text is checked where it is read, and holds nothing
// that TOML would quote otherwise than Go does.
type pen struct {
	strings.Builder
	unit temp.Unit
}

func (p *pen) head(h string) {
	if p.Len() > 0 {
		p.WriteByte('\n')
	}
	p.WriteString(h + "\n")
}

func (p *pen) line(key, value string) { fmt.Fprintf(p, "%s = %s\n", key, value) }

func (p *pen) text(key, s string) {
	if s != "" {
		p.line(key, quote(s))
	}
}

func quote(s string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(s) + `"`
}

func (p *pen) whole(key string, n int) { p.line(key, strconv.Itoa(n)) }

func (p *pen) temp(key string, c temp.C) { p.text(key, tempText(c, p.unit)) }

func (p *pen) delta(key string, d temp.Delta) { p.text(key, deltaText(d, p.unit)) }

// some writes a difference that is left out if it is 0.
func (p *pen) some(key string, d temp.Delta) {
	if d != 0 {
		p.delta(key, d)
	}
}

func (p *pen) span(key string, d time.Duration) {
	if d != 0 {
		p.text(key, spanText(d))
	}
}

func (p *pen) date(key string, d Date) {
	if !d.IsZero() {
		p.line(key, d.String())
	}
}

func (p *pen) names(key string, list []string) {
	if len(list) > 0 {
		quoted := make([]string, len(list))
		for i, s := range list {
			quoted[i] = quote(s)
		}
		p.line(key, "["+strings.Join(quoted, ", ")+"]")
	}
}

func (p *pen) gains(g Gains) {
	p.text("kp", plain(g.Kp)+"/C")
	p.span("ti", g.Ti)
	p.span("td", g.Td)
	p.line("weight", plain(g.Weight))
}

func (p *pen) model(m Model) {
	if m.Slope > 0 {
		p.text("slope", plain(m.Slope)+"C/s")
	} else {
		p.delta("rise", m.Rise)
		p.span("time_constant", m.TimeConstant)
	}
	p.span("second", m.Second)
	p.text("dead_time", spanText(m.DeadTime))
	if m.Hold > 0 {
		p.line("hold", plain(m.Hold))
		p.temp("hold_at", m.HoldAt)
	}
	p.some("noise", m.Noise)
	if m.SwingSlope > 0 {
		p.text("swing_slope", plain(m.SwingSlope)+"C/s")
		p.span("swing_lag", m.SwingLag)
		p.text("swing_dead_time", spanText(m.SwingDead))
	}
	p.span("start_lag", m.StartLag)
}

func (p *pen) correction(c Correction) {
	if len(c.Points) == 0 {
		p.delta("offset", c.Offset)
	} else {
		points := make([]string, len(c.Points))
		for i, q := range c.Points {
			points[i] = fmt.Sprintf("{ reads = %s, is = %s }", quote(tempText(q.Reads, p.unit)),
				quote(tempText(q.Is, p.unit)))
		}
		p.line("point", "["+strings.Join(points, ", ")+"]")
	}
	p.date("date", c.Date)
	p.text("source", c.Source)
}

func (p *pen) output(o Output) {
	if o.Contactor {
		p.text("kind", "contactor")
		p.delta("deadband", o.Deadband)
		p.text("least_on", spanText(o.LeastOn))
		p.text("least_off", spanText(o.LeastOff))
	}
	p.span("window", o.Window)
	if o.MainsHz != 0 {
		p.text("mains", strconv.Itoa(o.MainsHz)+"Hz")
	}
}

// Paste gives the gains as text for under an [[oven]] of a shop file.
func (g Gains) Paste() string {
	var p pen
	p.head("[oven.gains]")
	p.gains(g)
	return p.String()
}

// Paste gives the model as text for under an [[oven]] of a shop file, in unit u where that loses
// nothing.
func (m Model) Paste(u temp.Unit) string {
	p := pen{unit: u}
	p.head("[oven.model]")
	p.model(m)
	return p.String()
}

// Paste gives the correction as text for under a [[probe]] of a shop file.
func (c Correction) Paste(u temp.Unit) string {
	p := pen{unit: u}
	p.head("[probe.correction]")
	p.correction(c)
	return p.String()
}

// Paste gives the board as text for a shop file.
func (b Board) Paste(u temp.Unit) string {
	p := pen{unit: u}
	p.head("[[board]]")
	p.text("name", b.Name)
	p.text("kind", string(b.Kind))
	p.text("port", b.Port)
	p.whole("baud", b.Baud)
	p.text("note", b.Note)
	if h := b.Lines; b.Kind == Lines {
		if h.HasUnit {
			p.text("unit", letter(h.Unit))
		}
		p.text("decimal", h.Decimal)
		if len(h.Columns) > 0 {
			columns := make([]string, len(h.Columns))
			for i, c := range h.Columns {
				columns[i] = c.text()
			}
			p.line("columns", "["+strings.Join(columns, ", ")+"]")
		}
		if h.ColdColumn != (Column{}) {
			p.line("cold_column", h.ColdColumn.text())
		}
		p.text("chip", h.Chip)
	}
	p.text("parity", b.Parity)
	for _, c := range b.Channels {
		p.head("[[board.channel]]")
		p.whole("number", c.Number)
		p.whole("address", c.Address)
		p.whole("function", c.Function)
		p.whole("register", c.Register)
		p.text("type", c.Type)
		p.text("word_order", c.WordOrder)
		p.line("scale", plain(c.Scale))
		p.text("unit", letter(c.Unit))
		p.temp("low", c.Low)
		p.temp("high", c.High)
	}
	return p.String()
}

func (c Column) text() string {
	if c.Label != "" {
		return quote(c.Label)
	}
	return strconv.Itoa(c.Number)
}

func letter(u temp.Unit) string { return strings.TrimPrefix(u.String(), "°") }

// Paste gives the probe as text for a shop file.
func (q Probe) Paste(u temp.Unit) string {
	p := pen{unit: u}
	p.head("[[probe]]")
	p.text("name", q.Name)
	p.text("board", q.Board)
	p.whole("channel", q.Channel)
	p.text("use", string(q.Use))
	p.text("type", q.Type)
	p.text("class", string(q.Class))
	p.date("fitted", q.Fitted)
	p.text("note", q.Note)
	if q.Correction != nil {
		p.WriteString(q.Correction.Paste(u))
	}
	return p.String()
}

// Paste gives the oven as text for a shop file.
func (o Oven) Paste(u temp.Unit) string {
	p := pen{unit: u}
	p.head("[[oven]]")
	p.text("name", o.Name)
	p.temp("limit", o.Limit)
	p.text("board", o.Board)
	if o.Heater {
		p.line("heater", "true")
	}
	if o.Fan {
		p.line("fan", "true")
	}
	p.names("probes", o.Probes)
	p.text("note", o.Note)
	if o.Gains != nil {
		p.WriteString(o.Gains.Paste())
	}
	if o.Model != nil {
		p.WriteString(o.Model.Paste(u))
	}
	if o.Output != nil {
		p.head("[oven.output]")
		p.output(*o.Output)
	}
	return p.String()
}

// Paste gives the forge as text for a shop file.
func (f Forge) Paste(u temp.Unit) string {
	p := pen{unit: u}
	p.head("[[forge]]")
	p.text("name", f.Name)
	if f.Limit != 0 {
		p.temp("limit", f.Limit)
	}
	p.names("probes", f.Probes)
	p.text("note", f.Note)
	return p.String()
}

// Paste gives the whole shop as the text of a shop file. Parse gives the same shop back.
func (s *Shop) Paste() string {
	var p pen
	p.text("name", s.Name)
	p.text("unit", letter(s.Unit))
	for _, b := range s.Boards {
		p.WriteString("\n" + b.Paste(s.Unit))
	}
	for _, q := range s.Probes {
		p.WriteString("\n" + q.Paste(s.Unit))
	}
	for _, o := range s.Ovens {
		p.WriteString("\n" + o.Paste(s.Unit))
	}
	for _, f := range s.Forges {
		p.WriteString("\n" + f.Paste(s.Unit))
	}
	return p.String()
}

// Paste gives what found.toml has of an oven or a probe as text for the shop file, "" if
// nothing: what a person pastes to keep it.
func (f Found) Paste(of string, u temp.Unit) (text string) {
	if e := Get(f.Gains, of); e != nil {
		text += e.Value.Paste()
	}
	if e := Get(f.Models, of); e != nil {
		text += e.Value.Paste(u)
	}
	if e := Get(f.Corrections, of); e != nil {
		text += e.Value.Paste(u)
	}
	return text
}
