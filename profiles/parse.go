package profiles

import (
	"time"

	"strawline/probe/temp"
)

// Parse reads a profile from a TOML document; file is only for messages. The result passes
// Check. An error is always a *Problem with line and column.
//
// The format, with every key (a step has exactly one of ramp, soak, cool, wait, repeat):
//
//	name = "small-knife"         # a-z 0-9 and -
//	title = "Small knife"        # optional, one line
//	note = "why these numbers"   # optional
//	unit = "F"                   # optional: how it is shown; that of limit unless given
//	limit = "450F"               # over-temperature limit
//	longest = "9h"               # optional: longest total time; the plan and 2 h
//	band = "10F"                 # optional: for every step without its own
//
//	[[step]]
//	repeat = 2                   # the steps under do, so many times
//	[[step.do]]
//	ramp = "400F"                # go to this temperature
//	rate = "300F/h"              # optional: as fast as the oven can unless given
//	band = "10F"                 # optional: half width
//	within = "1h"                # optional: longest wait for the band, then an alarm
//	[[step.do]]
//	wait = "blade in"            # what the person is to do, then say go on
//	heat = true                  # optional: heat stays on; off unless given
//	most = "30m"                 # optional, with heat: then heat off and an alarm; 60 min
//	blade = "in"                 # optional: the answer means that the blade is in, or out
//	[[step.do]]
//	soak = "2h"                  # stay so long inside the band
//	at = "400F"                  # optional: the last ramp's or soak's temperature; band, within
//	[[step]]
//	cool = "140F"                # heat off until it has fallen to this; within
//
// Unless given, within is the planned time and Patience.
func Parse(file string, data []byte) (*Profile, error) {
	r := &reader{file: file, data: withoutMark(data)}
	p, from, root := r.profile()
	if r.bad == nil {
		if f := check(p); f != nil {
			w := root.at
			if f.step >= 0 {
				w = from[f.step]
			}
			r.fail(w.at(f.key), f.key, f.text)
		}
	}
	if r.bad != nil {
		return nil, r.bad
	}
	return p, nil
}

// profile reads the whole document; from has the place of each step that is written out.
func (r *reader) profile() (p *Profile, from []*where, t table) {
	t = r.open()
	if r.bad != nil {
		return nil, nil, t
	}
	t.known("a profile", "name", "title", "note", "unit", "limit", "longest", "band", "step")
	p = &Profile{
		Name:    t.words("name", `"my-knife"`),
		Title:   t.words("title", `"My knife"`),
		Note:    t.words("note", `"why these numbers"`),
		Longest: t.span("longest"),
	}
	p.Limit, p.Unit, _ = t.temp("limit")
	if s, ok := t.text("unit", `"F" or "C"`); ok {
		u, known := unitOf(s)
		if !known {
			t.fail("unit", "%q is no unit of temperature: write F or C", s)
		}
		p.Unit = u
	}
	b := builder{unit: p.Unit}
	if band, ok := t.delta("band"); ok {
		b.band = band
		if text := bandText(band, p.Unit); text != "" {
			t.fail("band", "%s", text)
		}
	}
	t.need("name", `a name: write one on top, as name = "my-knife"`)
	t.need("limit", `an over-temperature limit: write one on top, as limit = "450F"`)
	t.need("step", "steps: begin each with a line [[step]]")
	for _, s := range t.tables("step", "[[step]]") {
		b.add(s)
	}
	if r.bad == nil {
		p.Steps = b.steps
		p.complete()
	}
	return p, b.from, t
}

// need complains if a key of the profile does not stand there.
func (t table) need(key, what string) {
	if !t.has(key) {
		t.r.fail(t.at, "", "a profile needs "+what)
	}
}

func unitOf(s string) (temp.Unit, bool) {
	switch s {
	case "F", "°F":
		return temp.Fahrenheit, true
	case "C", "°C":
		return temp.Celsius, true
	}
	return 0, false
}

// builder writes the steps out.
type builder struct {
	unit   temp.Unit
	band   temp.Delta // of the profile; 0 none
	target temp.C     // of the last ramp or soak
	aimed  bool       // target is set
	cycle  int
	steps  []Step
	from   []*where
}

// add reads one [[step]] or [[step.do]].
func (b *builder) add(t table) {
	what := verb(t)
	if t.r.bad != nil {
		return
	}
	s := Step{Cycle: b.cycle}
	switch what {
	case "ramp":
		t.known("a ramp", "ramp", "rate", "band", "within")
		s.Kind = Ramp
		s.To, _, _ = t.temp("ramp")
		s.Rate = t.rate("rate")
		b.aim(t, &s)
	case "soak":
		t.known("a soak", "soak", "at", "band", "within")
		s.Kind = Soak
		s.For = t.span("soak")
		if s.To = b.target; t.has("at") {
			s.To, _, _ = t.temp("at")
		} else if !b.aimed {
			t.fail("soak", `soak at what? Put a ramp before it, or give it at = "400F"`)
		}
		b.aim(t, &s)
	case "cool":
		t.known("a cool", "cool", "within")
		s.Kind = Cool
		s.To, _, _ = t.temp("cool")
	case "wait":
		t.known("a wait", "wait", "heat", "most", "blade")
		b.wait(t, &s)
	case "repeat":
		b.repeat(t)
		return
	}
	s.Limit = t.span("within")
	b.steps = append(b.steps, s)
	b.from = append(b.from, t.at)
}

// verb finds the one key that says what the step does.
func verb(t table) string {
	verbs := []string{"ramp", "soak", "cool", "wait", "repeat"}
	found := ""
	for _, v := range verbs {
		switch {
		case !t.has(v):
		case found == "":
			found = v
		case t.at.at(v).offset < t.at.at(found).offset:
			t.fail(found, "a step does one thing, and this one has %s as well: make two steps", v)
		default:
			t.fail(v, "a step does one thing, and this one has %s as well: make two steps", found)
		}
	}
	if found == "" {
		t.known("a step", append(verbs, "rate", "band", "within", "at", "heat", "most",
			"blade", "do")...)
		t.r.fail(t.at, "", "this step does not say what to do: give it ramp, soak, cool, "+
			"wait or repeat")
	}
	return found
}

// aim notes the target and gives the step its band.
func (b *builder) aim(t table, s *Step) {
	b.target, b.aimed = s.To, true
	s.Band = b.band
	if t.has("band") {
		s.Band, _ = t.delta("band")
	} else if b.band == 0 {
		t.r.fail(t.at, "", `this step needs a band: give it or the whole profile one, as `+
			`band = "10F"`)
	}
}

func (b *builder) wait(t table, s *Step) {
	s.Kind = Wait
	s.Say = t.words("wait", `"blade in"`)
	s.Heat = t.yes("heat")
	s.Most = t.span("most")
	if s.Heat && !t.has("most") {
		s.Most = MaxHeatWait
	}
	if v, ok := t.text("blade", `"in" or "out"`); ok {
		switch v {
		case "in":
			s.Load = LoadIn
		case "out":
			s.Load = LoadOut
		default:
			t.fail("blade", `%q: the blade can be "in" or "out" after a wait`, v)
		}
	}
}

// repeat writes the steps under do out, once a cycle.
func (b *builder) repeat(t table) {
	t.known("a repeat", "repeat", "do")
	if b.cycle > 0 {
		t.fail("repeat", "a repeat cannot stand inside another: write the inner steps out")
	}
	n := t.whole("repeat", 1, MaxRepeats)
	if !t.has("do") {
		t.fail("repeat", "repeat what? Put the steps under lines [[step.do]] below it")
	}
	do := t.tables("do", "[[step.do]]")
	for i := range n {
		b.cycle = i + 1
		for _, s := range do {
			b.add(s)
		}
	}
	b.cycle = 0
}

// complete gives every step its limit on waiting, and the profile its title and longest time.
func (p *Profile) complete() {
	if p.Title == "" {
		p.Title = p.Name
	}
	lengths := Lengths(p.Steps)
	var total time.Duration
	for i := range p.Steps {
		s := &p.Steps[i]
		total += lengths[i]
		if s.Kind != Wait && s.Limit == 0 {
			s.Limit = min((lengths[i] - s.For + Patience).Round(time.Minute), MaxTotal)
		}
	}
	if p.Longest == 0 {
		p.Longest = min((total + Spare).Round(time.Second), MaxTotal)
	}
}
