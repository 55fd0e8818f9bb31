package shop

import "time"

// Bytes gives the text of found.toml, temperatures in °C to the last digit. ParseFound gives the
// same Found back; what it would refuse is a *Problem here, and no text.
func (f Found) Bytes() ([]byte, error) {
	var p pen
	p.WriteString("# Written by strawline, whole, each time that it finds something. What stands\n" +
		"# in shop.toml wins over what stands here: to keep a figure, put it there.\n")
	p.whole("schema", schema)
	write(&p, "model", f.Models, (*pen).model)
	write(&p, "gains", f.Gains, func(p *pen, g FoundGains) {
		p.gains(g.Gains)
		p.text("rule", g.Rule)
	})
	for _, e := range f.Corrections {
		c := e.Value
		c.Date = Date{} // it stands once, in the entry
		entry(&p, "correction", e)
		p.correction(c)
	}
	write(&p, "check", f.Checks, func(p *pen, c Check) {
		p.text("against", c.Against)
		p.temp("at", c.At)
		p.delta("offset", c.Offset)
		p.some("swing", c.Swing)
		p.span("recovery", c.Recovery)
		p.some("spread", c.Spread)
	})
	write(&p, "wear", f.Wears, func(p *pen, w Wear) {
		p.span("warm", w.Warm.Round(time.Second))
		p.span("aged", w.Aged.Round(time.Second))
		p.temp("peak", w.Peak)
	})
	write(&p, "convection", f.Convections, func(p *pen, c Convection) {
		p.line("w_per_m2_k", plain(c.W))
		p.line("within", plain(c.Within))
	})
	write(&p, "fitted", f.Fitted, func(*pen, Fitted) {})
	for _, part := range Parts() {
		write(&p, string(part), *f.Proofs(part), (*pen).proof)
	}
	write(&p, "lowered", f.Lowered, (*pen).lowered)
	text := []byte(p.String())
	if _, err := ParseFound("found.toml", text); err != nil {
		return nil, err
	}
	return text, nil
}

func write[T any](p *pen, key string, list []Entry[T], value func(*pen, T)) {
	for _, e := range list {
		entry(p, key, e)
		value(p, e.Value)
	}
}

func entry[T any](p *pen, key string, e Entry[T]) {
	p.head("[[" + key + "]]")
	p.text("of", e.Of)
	p.date("date", e.Date)
	p.text("run", e.Run)
}
