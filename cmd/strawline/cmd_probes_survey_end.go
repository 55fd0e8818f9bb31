package main

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"strawline/control/shop"
	"strawline/probe/temp"
	"strawline/probe/thermocouple"
)

// surveyAnswer is what `probes survey --json` prints.
type surveyAnswer struct {
	Oven        string   `json:"oven"`
	Against     string   `json:"against"`
	At          float64  `json:"at_c"`
	Stay        float64  `json:"stay_s"`
	Offset      float64  `json:"offset_c"`
	Uncertainty float64  `json:"uncertainty_c"`
	Within      float64  `json:"reference_within_c"`
	WithinBy    string   `json:"reference_within_by"`
	Repeat      float64  `json:"repeat_c"`
	Swing       float64  `json:"swing_c"`
	OvenSwing   float64  `json:"oven_swing_c"`
	Set         float64  `json:"set_c"`
	SetFrom     string   `json:"set_from"`
	Low         float64  `json:"low_c"`
	High        float64  `json:"high_c"`
	PlusMinusC  float64  `json:"plus_minus_c"`
	PlusMinusF  float64  `json:"plus_minus_f"`
	Class       int      `json:"class,omitempty"` // absent: beyond class 6
	Yardstick   string   `json:"yardstick"`
	Recovery    *float64 `json:"recovery_s,omitempty"`
	NoRecovery  string   `json:"no_recovery,omitempty"` // why there is none
	Spread      *float64 `json:"spread_c,omitempty"`
	Probes      int      `json:"probes"`
	Date        string   `json:"date"`
	Simulated   bool     `json:"simulated"`
	Written     bool     `json:"written"`
	File        string   `json:"file"`
}

// finish says what was found, asks, and stores it.
func (s *surveying) finish(got survey) error {
	if err := s.sure(got); err != nil {
		return err
	}
	a := s.answer(got)
	if s.simulated {
		a.Against = "SIMULATED " + a.Against
		return s.told(a, got, "SIMULATED: never stored among the shop's own figures")
	}
	for line := range strings.Lines(s.report(a, got)) {
		s.say("%s", strings.TrimSuffix(line, "\n"))
	}
	line, err := s.ask("Store this as the last check of %s? Type yes:", s.oven.Name)
	if err != nil {
		return err
	}
	if line != "yes" {
		return &fault{code: exitTemporary, did: "survey", to: s.oven.Name,
			wrong: errors.New("not confirmed"), help: "nothing was written"}
	}
	if err := s.store(got); err != nil {
		return err
	}
	a.Written = true
	return s.told(a, got, "stored in "+a.File)
}

// told prints the answer.
func (s *surveying) told(a surveyAnswer, got survey, what string) error {
	if s.f.json {
		return s.h.printJSON(a)
	}
	return s.h.print(s.report(a, got) + what + "\n")
}

// sure finds how far the reference may be off.
func (s *surveying) sure(got survey) error {
	oven, ref := temp.Delta(0.25), temp.Delta(0.25)
	if s.air != nil {
		oven = chipStep(s.air.chip, 0)
	}
	if s.in.Hand {
		ref = 0
	} else if s.ref != nil {
		ref = chipStep(s.ref.chip, 0)
	}
	s.steps = together(oven/2, ref/2)
	if s.f.within.given {
		s.within, s.by = s.f.within.d, "as you say"
		return nil
	}
	typ := s.ref.typ
	if typ == 0 {
		typ = thermocouple.K // the usual one, and the board of a run file does not say
	}
	var ok bool
	if s.within, s.by, ok = tolerance(typ, s.ref.class, got.At); !ok {
		return usage("no class says how far the reference may be off at %s: say it with --within",
			two(got.At))
	}
	s.by = "type " + typ.String() + ", " + s.by
	return nil
}

func (s *surveying) uncertainty(got survey) temp.Delta {
	return together(s.within, s.steps, got.Repeat)
}

func (s *surveying) answer(got survey) surveyAnswer {
	u := s.uncertainty(got)
	a := surveyAnswer{Oven: s.oven.Name, Against: s.against, At: float64(round2(got.At)),
		Stay: got.Stay.Seconds(), Offset: float64(round2(got.Offset)),
		Uncertainty: float64(round2(u)), Within: float64(round2(s.within)), WithinBy: s.by,
		Repeat: float64(round2(got.Repeat)), Swing: float64(round2(got.Swing)),
		OvenSwing: float64(round2(got.OvenSwing)), Set: float64(round2(got.Set)),
		SetFrom: "the mean of the oven's own probe", Low: float64(round2(got.Low)),
		High: float64(round2(got.High)), PlusMinusC: float64(round2(got.Most)),
		PlusMinusF: round2(got.Most.F()), Yardstick: yardstick(got.Most, u),
		NoRecovery: got.Recovered, Probes: got.Probes, Date: s.day().String(),
		Simulated: s.simulated, File: shop.FoundPath(s.files.path)}
	if got.HasSet {
		a.SetFrom = "the heat that was set"
	}
	if c, ok := classOf(got.Most); ok {
		a.Class = c.Number
	}
	if got.Recovery > 0 {
		r := got.Recovery.Seconds()
		a.Recovery = &r
	}
	if got.Probes > 2 {
		d := float64(round2(got.Spread))
		a.Spread = &d
	}
	return a
}

// report says the survey to a person.
func (s *surveying) report(a surveyAnswer, got survey) string {
	var t strings.Builder
	fmt.Fprintf(&t, "%s against %s, %v at %s\n", a.Oven, a.Against, got.Stay.Round(time.Second),
		two(got.At))
	fmt.Fprintf(&t, "offset     %s: the oven's reading less the reference\n", twoDelta(got.Offset))
	fmt.Fprintf(&t, "           %s of uncertainty: reference ±%.2f (%s), steps ±%.2f, "+
		"repeat ±%.2f °C\n", pm(s.uncertainty(got)), float64(s.within), s.by, float64(s.steps),
		float64(got.Repeat))
	fmt.Fprintf(&t, "swing      %s at the reference, %s at the oven's probe, in means of %v\n",
		span(got.Swing), span(got.OvenSwing), got.Bin)
	fmt.Fprintf(&t, "plus-minus %s about %s, %s; from %s to %s\n", pm(got.Most), two(got.Set),
		a.SetFrom, got.Low.Text(temp.Celsius, 1), got.High.Text(temp.Celsius, 1))
	fmt.Fprintf(&t, "           %s\n", a.Yardstick)
	if got.Recovery > 0 {
		fmt.Fprintf(&t, "recovery   %v after the door, to the next %v\n", got.Recovery, got.Bin)
	} else {
		fmt.Fprintf(&t, "recovery   not known: %s\n", got.Recovered)
	}
	if a.Spread != nil {
		fmt.Fprintf(&t, "spread     %s between the means of %d probes\n", span(got.Spread), got.Probes)
	}
	return t.String()
}

// span writes a width in both units, without a sign.
func span(d temp.Delta) string {
	return fmt.Sprintf("%.1f °C (%.1f °F)", float64(d), d.F())
}

// day is the day of the readings.
func (s *surveying) day() shop.Date {
	if s.began.IsZero() {
		return today(s.clock)
	}
	return shop.DateOf(s.began)
}

// store puts the check into found.toml.
func (s *surveying) store(got survey) error {
	e := shop.Entry[shop.Check]{Of: s.oven.Name, Date: s.day(), Run: s.of,
		Value: shop.Check{Against: s.against, At: round2(got.At), Offset: round2(got.Offset),
			Swing: round2(got.Swing), Recovery: got.Recovery, Spread: round2(got.Spread)}}
	err := shop.NewStore(shop.FoundPath(s.files.path)).Update(func(f *shop.Found) error {
		f.Checks = shop.Put(f.Checks, e)
		return nil
	})
	if err != nil {
		return &fault{code: exitCannotMake, did: "store the check of", to: s.oven.Name, wrong: err,
			help: "nothing was written"}
	}
	return nil
}

// lastAnswer is what `probes survey --last --json` prints.
type lastAnswer struct {
	Oven    string   `json:"oven"`
	Words   string   `json:"words"`
	Date    string   `json:"date,omitempty"`
	Days    *int     `json:"days,omitempty"`
	Against string   `json:"against,omitempty"`
	At      *float64 `json:"at_c,omitempty"`
	Offset  *float64 `json:"offset_c,omitempty"`
}

// lastCheck says what the last check was.
func (h *host) lastCheck(f *surveyFlags, files *shopFiles, oven *shop.Oven, day shop.Date) error {
	e := shop.Get(files.found.Checks, oven.Name)
	a := lastAnswer{Oven: oven.Name, Words: shop.CheckWords(e, day, files.shop.Unit)}
	if e != nil {
		days, at, off := day.Since(e.Date), float64(e.Value.At), float64(e.Value.Offset)
		a.Date, a.Days, a.Against, a.At, a.Offset = e.Date.String(), &days, e.Value.Against, &at, &off
	}
	if f.json {
		return h.printJSON(a)
	}
	text := oven.Name + ": " + a.Words
	if e != nil {
		text += fmt.Sprintf("; at %s against %s", two(e.Value.At), e.Value.Against)
	}
	return h.print(text + "\n")
}
