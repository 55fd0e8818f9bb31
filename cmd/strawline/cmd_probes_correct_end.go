package main

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"strawline/control/shop"
	"strawline/probe"
	"strawline/probe/temp"
)

// nearPoint is how near an older point of a correction must be for a new one to take its place.
const nearPoint = temp.Delta(10)

// correctPoint is a point in the answer.
type correctPoint struct {
	Reads float64 `json:"reads_c"`
	Is    float64 `json:"is_c"`
}

// correctAnswer is what `probes correct --json` prints.
type correctAnswer struct {
	Probe       string         `json:"probe"`
	Against     string         `json:"against"`
	Expected    float64        `json:"expected_c"`
	ExpectedPM  float64        `json:"expected_within_c"`
	Mean        float64        `json:"mean_c"`
	Low         float64        `json:"low_c"`
	High        float64        `json:"high_c"`
	Readings    int            `json:"readings"`
	Span        float64        `json:"span_s"`
	Moved       float64        `json:"moved_c"`
	Error       float64        `json:"error_c"`
	Uncertainty float64        `json:"uncertainty_c"`
	Resolution  float64        `json:"resolution_c"`
	Tolerance   *float64       `json:"tolerance_c,omitempty"` // of new wire of the type, there
	Class       string         `json:"tolerance_class,omitempty"`
	Points      []correctPoint `json:"points"`
	Date        string         `json:"date"`
	Source      string         `json:"source"`
	File        string         `json:"file"`
	Written     bool           `json:"written"`
	Paste       string         `json:"paste,omitempty"` // where the shop file has one already
}

// finish shows what was found, asks, and writes it.
func (c *correcting) finish(m stillness) error {
	pick := shop.PickCorrection(c.files.shop, c.files.found, c.tip.name)
	v, notes := joined(pick, probePoint(m, c.point.Is), c.source(), c.f.replace)
	v.Date = today(c.clock)
	if err := v.Check(); err != nil {
		return &fault{code: exitData, did: "correct", to: c.tip.name, wrong: err,
			help: "the points found before do not go with this one: --replace begins anew"}
	}
	own := pick.Origin == shop.FromShop
	a := c.answer(m, v)
	text := c.report(m, v, notes)
	for line := range strings.Lines(text) {
		c.say("%s", strings.TrimSuffix(line, "\n"))
	}
	var refused error
	if own {
		a.File, a.Paste = c.files.path, v.Paste(c.files.shop.Unit)
	} else if refused = c.agreed(); refused == nil {
		if refused = c.write(v); refused == nil {
			a.Written = true
		}
	}
	if refused != nil {
		return refused
	}
	switch {
	case c.f.json:
		return c.h.printJSON(a)
	case own:
		return c.h.print(fmt.Sprintf("%s has a correction in %s, which wins and is never written "+
			"by the program. Paste this in its place:\n%s", c.tip.name, a.File, a.Paste))
	}
	return c.h.print(fmt.Sprintf("%s: %s added at %s, written to %s\n", c.tip.name,
		twoDelta(-temp.Delta(a.Error)), two(c.point.Is), a.File))
}

// agreed asks for the whole word yes.
func (c *correcting) agreed() error {
	line, err := c.ask("Write this correction? Type yes:")
	if err == nil && line != "yes" {
		err = &fault{code: exitTemporary, did: "correct", to: c.tip.name,
			wrong: fmt.Errorf("not confirmed"), help: "nothing was written"}
	}
	return err
}

// source says in a line what the probe was held against.
func (c *correcting) source() string {
	return fmt.Sprintf("%s, ±%.2g °C", c.point.Full, float64(c.point.Within))
}

// joined adds a new point to those that the probe has. What is of an earlier probe, and an
// offset of which nobody knows where it was found, makes room.
func joined(pick shop.Pick[shop.Correction], p probe.Point, source string, anew bool,
) (v shop.Correction, notes []string) {
	old := pick.Value
	v = shop.Correction{Source: source, Points: []shop.Point{shop.Point(p)}}
	switch {
	case pick.Origin == shop.FromNowhere:
		return v, nil
	case anew:
		return v, []string{"The correction of " + pick.Date.String() + " makes room, as you ask."}
	case pick.Outdated:
		return v, []string{"The correction of " + pick.Date.String() + " is of an earlier probe " +
			"and makes room."}
	case len(old.Points) == 0:
		return v, []string{fmt.Sprintf("The offset %s of %v (%s) makes room for the point.",
			old.Offset.Text(temp.Celsius, 2), pick.Date, old.Source)}
	}
	for _, q := range old.Points {
		if math.Abs(float64(q.Reads.Sub(p.Reads))) < float64(nearPoint) {
			notes = append(notes, fmt.Sprintf("The point that reads %s makes room for the new one.",
				two(q.Reads)))
			continue
		}
		v.Points = append(v.Points, q)
	}
	slices.SortFunc(v.Points, func(a, b shop.Point) int {
		return int(math.Copysign(1, float64(a.Reads.Sub(b.Reads))))
	})
	if len(v.Points) == 1 {
		return v, notes
	}
	const most = 200 // characters of a source in the file
	v.Source = old.Source + "; " + source
	if kept := len(v.Points) - 1; kept < len(old.Points) || len([]rune(v.Source)) > most {
		v.Source = fmt.Sprintf("%s; %d earlier points", source, kept)
	}
	return v, notes
}

func (c *correcting) doubts(m stillness) doubts {
	return doubtsOf(m, c.point.Within, chipStep(c.tip.chip, m.Step))
}

func (c *correcting) answer(m stillness, v shop.Correction) correctAnswer {
	d := c.doubts(m)
	a := correctAnswer{Probe: c.tip.name, Against: c.point.Full, Expected: float64(round2(c.point.Is)),
		ExpectedPM: float64(round2(c.point.Within)), Mean: float64(round2(m.Mean)),
		Low: float64(round2(m.Low)), High: float64(round2(m.High)), Readings: m.N,
		Span: float64(round2(m.Over.Seconds())), Moved: float64(round2(m.Moved)),
		Error:       float64(round2(m.Mean.Sub(c.point.Is))),
		Uncertainty: float64(round2(d.Here)),
		Resolution:  2 * float64(d.Resolution), Date: v.Date.String(), Source: v.Source,
		File: shop.FoundPath(c.files.path)}
	if within, by, ok := tolerance(c.tip.typ, c.tip.class, c.point.Is); ok {
		t := float64(round2(within))
		a.Tolerance, a.Class = &t, by
	}
	for _, p := range v.Points {
		a.Points = append(a.Points, correctPoint{float64(p.Reads), float64(p.Is)})
	}
	return a
}

// temperAt is where the tolerance elsewhere is said: the heat of a usual temper.
const temperAt = temp.C(200)

// report says what was found, for a person.
func (c *correcting) report(m stillness, v shop.Correction, notes []string) string {
	var s strings.Builder
	d := c.doubts(m)
	off := m.Mean.Sub(c.point.Is)
	fmt.Fprintf(&s, "expected     %s, ±%.2f °C: %s\n", two(c.point.Is), float64(d.Reference),
		c.point.Full)
	fmt.Fprintf(&s, "read         %s, the mean of %d readings in %.0f s, from %.2f to %.2f °C\n",
		two(m.Mean), m.N, m.Over.Seconds(), float64(m.Low), float64(m.High))
	fmt.Fprintf(&s, "error        %s\n", twoDelta(off))
	fmt.Fprintf(&s, "uncertainty  %s here: reference ±%.2f, half a step ±%.2f, scatter ±%.2f, still "+
		"moving ±%.2f °C\n", pm(d.Here), float64(d.Reference), float64(d.Resolution),
		float64(d.Scatter), float64(d.Moved))
	if within, by, ok := tolerance(c.tip.typ, c.tip.class, c.point.Is); ok {
		fmt.Fprintf(&s, "tolerance    %s for new wire of type %s here (%s)\n", pm(within), c.tip.typ, by)
		if math.Abs(float64(off)) > float64(within+d.Here) {
			fmt.Fprintf(&s, "             the error is more than that: look at the type, the joints, "+
				"the extension wire and its age\n")
		}
	}
	if within, _, ok := tolerance(c.tip.typ, c.tip.class, temperAt); ok && len(v.Points) == 1 {
		fmt.Fprintf(&s, "             one point says nothing of other heats: at 200 °C (392 °F) up to "+
			"%s of the wire's own remain\n", pm(within))
	}
	for _, n := range notes {
		fmt.Fprintf(&s, "%s\n", n)
	}
	fmt.Fprintf(&s, "%s would have, from %v on:\n", c.tip.name, v.Date)
	for _, p := range v.Points {
		fmt.Fprintf(&s, "  what reads %s is %s\n", two(p.Reads), two(p.Is))
	}
	return s.String()
}
