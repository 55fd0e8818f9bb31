package tui

import (
	"math"
	"time"

	"strawline/control"
	"strawline/probe/temp"
	"strawline/profiles"
)

// The scenes of the golden screens: a two-cycle temper of a small knife at 400 °F with a made
// up, but possible, past. Every figure in them is chosen here.

func minutes(m float64) time.Duration { return time.Duration(m * float64(time.Minute)) }

func temperProfile() profiles.Profile {
	cycle := func(n int) []profiles.Step {
		return []profiles.Step{
			{Kind: profiles.Ramp, To: temp.F(400), Band: temp.DeltaF(10), Cycle: n},
			{Kind: profiles.Wait, Say: "put the blade in", Heat: true, Most: time.Hour,
				Load: profiles.LoadIn, Cycle: n},
			{Kind: profiles.Soak, To: temp.F(400), For: 2 * time.Hour, Band: temp.DeltaF(10), Cycle: n},
			{Kind: profiles.Wait, Say: "take the blade out, let it cool to the hand",
				Load: profiles.LoadOut, Cycle: n},
		}
	}
	return profiles.Profile{Name: "small-knife", Title: "two-cycle temper of a small knife",
		Unit: temp.Fahrenheit, Steps: append(cycle(1), cycle(2)...), Limit: temp.C(250)}
}

func scene() control.Snapshot {
	p := temperProfile()
	start := time.Date(2026, 11, 24, 14, 2, 11, 0, time.UTC)
	info := &control.Info{Simulated: true, Start: start, Unit: "F", Profile: p,
		Shop:  control.Shop{Oven: "simulated oven A", LimitC: 260, Channels: []string{"oven air", "case"}},
		Gains: control.Gains{From: "cautious default"}}
	return control.Snapshot{Info: info, Phase: control.PhaseRunning, Steps: p.Steps, Link: "up",
		Started: true, Channels: []control.Channel{{Number: 1, Role: "oven air", Good: true},
			{Number: 2, Role: "case", Good: true, Temp: 41}}}
}

// at sets the time and a good reading.
func at(s control.Snapshot, t time.Duration, f float64) control.Snapshot {
	s.T, s.Wall = t, s.Info.Start.Add(t)
	s.HasTemp, s.Temp = true, temp.F(f)
	s.Channels[0].Temp = s.Temp
	return s
}

// planFrom writes the rest of the plan from a corner list of minutes, °F and step.
func planFrom(corners ...[3]float64) (out []profiles.Point) {
	for _, c := range corners {
		out = append(out, profiles.Point{At: minutes(c[0]), Temp: temp.F(c[1]), Step: int(c[2])})
	}
	return out
}

// pastOf makes the past of a heat-up from 72 °F that ends in a soak with a small ripple.
func pastOf(t time.Duration) (out trail) {
	for at := time.Duration(0); at <= t; at += control.PastSpan {
		f := min(72+at.Minutes()*22, 400) + 1.5*float64(int(at/control.PastSpan)%3)
		out = append(out, control.Past{At: at, Has: true, Min: temp.F(f - 0.6), Max: temp.F(f + 0.6),
			HasSet: true, Set: temp.F(400)})
	}
	return out
}

type staged struct {
	name  string
	s     control.Snapshot
	tr    trail
	want  []string // must be on the screen at every size
	wide  []string // must be on it from 80x24 on
	never []string // must be at no size
}

func scenes() []staged {
	return []staged{heating(), bladeIn(), soaking(), paused(), tripped(), open(), ended(), bladeLeft(),
		swinging(), noGains(), shelved(), shelvedAndWarm()}
}

func heating() staged {
	s := at(scene(), minutes(9.4), 279)
	s.HasSet, s.Set, s.Duty = true, temp.F(400), 1000
	s.Ready, s.Next, s.NextAt = minutes(276), "put the blade in", minutes(16)
	s.Plan = planFrom([3]float64{9.4, 279, 0}, [3]float64{15, 400, 0}, [3]float64{16, 400, 1},
		[3]float64{136, 400, 2}, [3]float64{146, 110, 3}, [3]float64{156, 400, 4},
		[3]float64{157, 400, 5}, [3]float64{277, 400, 6})
	return staged{"heating", s, pastOf(s.T)[:57],
		[]string{"set", "400", "duty", "100.0 %", "no alarms", "put the blade in"},
		[]string{"-121.0 °F", "step 1 of 8, ramp to 400 °F, cycle 1", "18:38, in 4 h 27 min",
			"14:18, in 7 min: put the blade in", "gains: cautious default", "no colour yet"},
		[]string{"!!", "straw,"}}
}

func bladeIn() staged {
	s := at(scene(), minutes(17), 401)
	s.Step, s.StepT = 1, minutes(16)
	s.HasSet, s.Set, s.Duty = true, temp.F(400), 152
	s.Ready, s.Next = minutes(277), "put the blade in"
	s.Plan = planFrom([3]float64{17, 401, 1}, [3]float64{137, 400, 2}, [3]float64{147, 110, 3},
		[3]float64{157, 400, 4}, [3]float64{158, 400, 5}, [3]float64{278, 400, 6})
	return staged{"blade-in", s, pastOf(s.T),
		[]string{"put the blade in", "YOUR TURN", "c confirm", "no alarms"},
		[]string{"now: put the blade in (c when it is done)", "step 2 of 8, wait", "faint straw",
			"by the air"},
		[]string{"!!"}}
}

func soaking() staged {
	s := at(scene(), minutes(68), 399.2)
	s.Step, s.StepT, s.Soak = 2, minutes(19), control.SoakCounting
	s.HasSet, s.Set, s.Duty = true, temp.F(400), 137
	s.HasBlade, s.Blade = true, temp.F(397)
	s.Dose = control.Dose{P: 8.54, HottestC: 207, By: control.DoseModelled, LikeC: 194.4, Steel: "1084",
		SoakC: 204.4, SameS: 2640, Known: true, HRC: 62.3, Band: 2.5, OverS: 90, Cost: 0.12}
	s.SoakDone, s.SoakLeft = minutes(47.5), minutes(72.5)
	s.Credits = make([]time.Duration, len(s.Steps))
	s.Ready, s.Next = minutes(280), "take the blade out, let it cool to the hand"
	s.NextAt = minutes(140.4)
	s.Plan = planFrom([3]float64{68, 399, 2}, [3]float64{140.5, 400, 2}, [3]float64{150, 110, 3},
		[3]float64{160, 400, 4}, [3]float64{161, 400, 5}, [3]float64{281, 400, 6})
	return staged{"soak", s, pastOf(s.T),
		[]string{"1:12:30", "400", "13.7 %", "by the air", "no alarms", "take the blade out"},
		[]string{"1:12:30 counting", "-0.8 °F", "modelled blade", "397 °F", "faint straw if any",
			"by the air, ±27 °F short heat", "16:22, in 1 h 12 min: take the blade out",
			"step 3 of 8, soak 2 h, cycle 1",
			"like 2 h 00 at 382 °F · 62.5 HRC (59.5 to 65) · excursion cost 0.1"},
		[]string{"!!"}}
}

func paused() staged {
	st := soaking()
	st.name = "paused"
	st.s = at(st.s, minutes(69.5), 371)
	st.s.Soak, st.s.Duty = control.SoakPaused, 890
	st.tr = pastOf(st.s.T)
	for i := range st.tr[len(st.tr)-9:] {
		p := &st.tr[len(st.tr)-9+i]
		p.Min, p.Max = temp.F(372-float64(i)), temp.F(380-float64(i))
	}
	st.s.Alarms = []control.Alarm{{Code: "plan", Word: "off the plan", State: "C",
		Text: "outside the band for 1 min", Do: "close the door", Since: minutes(69.4), Silent: true}}
	st.want = []string{"1:12:30 paused", "89.0 %", "OFF THE PLAN"}
	st.wide = []string{"-29.0 °F", "! OFF THE PLAN", "outside the band for 1 min", "acknowledged",
		"do: close the door"}
	st.never = []string{"no alarms", "counting"}
	return st
}

func tripped() staged {
	st := soaking()
	st.name = "tripped"
	st.s = at(st.s, minutes(75), 487)
	st.s.Phase, st.s.Why, st.s.Soak = control.PhaseTripped, "over the limit", control.SoakNone
	st.s.Duty, st.s.Ready, st.s.NextAt = 0, 0, 0
	st.s.Next = "look at the oven, then acknowledge, reset and go on, or stop"
	st.s.Latches = []string{"high limit"}
	st.s.Alarms = []control.Alarm{
		{Code: "over", Word: "over limit", State: "B", High: true, Text: "487 °F, the limit is 482 °F",
			Do: "switch the oven off at the wall, look at its relay", Since: minutes(74.8)},
		{Code: "plan", Word: "off the plan", State: "D", Text: "outside the band for 1 min",
			Do: "close the door", Since: minutes(72)}}
	st.tr = pastOf(minutes(75))
	for i := range 30 {
		p := &st.tr[len(st.tr)-30+i]
		p.Min, p.Max = temp.F(400+3*float64(i)), temp.F(403+3*float64(i))
	}
	st.want = []string{"OVER LIMIT", "!!", "off commanded", "a acknowledge", "r reset", "g go on"}
	st.wide = []string{"off commanded", "!! OVER LIMIT", "487 °F, the limit is 482 °F",
		"s silence", "board latches: high limit", "now: look at the oven"}
	st.wide = append(st.wide, "not known while tripped: over the limit")
	st.never = []string{"no alarms"}
	return st
}

func open() staged {
	st := soaking()
	st.name = "no-reading"
	st.s = at(st.s, minutes(70), 399)
	st.s.HasTemp, st.s.Temp, st.s.Duty = false, temp.F(399), 0 // the last value must not show
	st.s.Channels[0].Good, st.s.Channels[0].Fault = false, "open"
	st.s.Doubt, st.s.Doubts = "no good reading: open", 1
	st.s.Alarms = []control.Alarm{{Code: "reading", Word: "no reading", State: "B", High: true,
		Text: "the thermocouple is open", Do: "look at the probe and its cable", Since: minutes(69.9)}}
	st.tr = pastOf(minutes(70))
	for i := range 3 {
		st.tr[len(st.tr)-1-i] = control.Past{At: st.tr[len(st.tr)-1-i].At}
	}
	st.want = []string{"NO READING", "no good reading: open", "off commanded"}
	st.wide = []string{"!! NO READING", "heat is away: no good reading: open", "off commanded",
		"do: look at the probe and its cable", "doubts 1"}
	st.never = []string{"399", "no alarms", "straw,"}
	return st
}

func ended() staged {
	s := at(scene(), minutes(283), 388)
	s.Phase, s.Why, s.Step = control.PhaseEnded, "done", 7
	s.Next = "the run has ended: answer"
	s.Dose = control.Dose{P: 8.89, HottestC: 207, By: control.DoseModelled, LikeC: 211.7, Steel: "1084",
		SoakC: 204.4, SameS: 14880, Known: true, HRC: 61, Band: 2.5, OverS: 90, Cost: 0.12,
		Verdict: "By the modelled blade, all heats as one, this was like 2 h 00 at 413 °F, or 4 h 08 " +
			"at 400 °F; the last excursion cost 0.1 HRC. 1084, if fully hardened, is then about " +
			"61 HRC, 58.5 to 63.5."}
	return staged{"ended", s, pastOf(s.T),
		[]string{"ENDED", "the run has ended", "off commanded", "c confirm", "no alarms"},
		[]string{"ended, heat off commanded, the oven still reads 388 °F: done", "now: the run has ended: answer (c)",
			"413 °F, or 4 h 08", "58.5 to 63.5.", "n, then: hardness 60.5HRC"},
		[]string{"!!", "▲ramp"}}
}

// bladeLeft is a run that ended by its longest time, with the blade in the oven.
func bladeLeft() staged {
	st := ended()
	st.name = "blade-left"
	st.s.Why, st.s.BladeIn, st.s.Step = "the longest total time is over", true, 6
	st.s.Next = "take the blade out, in as far as is known; then answer"
	st.want = []string{"ENDED", "off commanded", "take the blade out, in"}
	st.wide = []string{"the oven still reads 388 °F: the longest", "now: take the blade out, in as far as is known; then answer (c)"}
	st.never = []string{"!!", "nothing more"}
	return st
}

// swinging is a tuning test in its second swing: the heat has gone up and down three times.
func swinging() staged {
	s := at(scene(), minutes(19.5), 396)
	info := *s.Info
	info.Test = &control.TestInfo{Kind: control.TestColdStart, TargetC: 200, MostS: 3 * 3600}
	s.Info, s.Step, s.Steps = &info, 1, s.Steps[:1]
	s.Steps = append(s.Steps[:1:1], profiles.Step{Kind: profiles.Soak, To: 200, For: 3 * time.Hour,
		Band: 20})
	s.HasSet, s.Set, s.Duty, s.Soak = true, 200, 100, control.SoakCounting
	s.SoakLeft, s.Test, s.TestMoves = minutes(166), control.TestSwinging, 4
	s.TestText = "the duty goes up and down, and the reading after it"
	past := pastOf(s.T)
	s.StepT = minutes(15)
	for i := range past { // swings of 2 °F about 392 °F, 100 s long
		q := &past[i]
		q.Set = 200
		if q.At >= s.StepT {
			mid := temp.F(392 + 2*math.Sin(2*math.Pi*q.At.Seconds()/100))
			q.Min, q.Max = mid.Add(-0.3), mid.Add(0.3)
		}
	}
	return staged{"test-swinging", s, past,
		[]string{"swing 2: the heat goes up", "10.0 %", "no alarms"},
		[]string{"swing 2: the heat goes up and down", "how high and how late the reading swings",
			"at most", "2:40:30"},
		[]string{"soak left", "18:38"}}
}

// noGains is a test that came to nothing.
func noGains() staged {
	st := swinging()
	st.name = "test-refused"
	st.s.Phase, st.s.Test, st.s.Soak = control.PhaseEnded, control.TestRefused, control.SoakNone
	st.s.TestText = "the reading fell as if the door was opened: test again and keep it shut"
	st.s.Duty, st.s.Next = 0, "the run has ended: answer"
	st.want = []string{"no gains: the reading", "ENDED", "off commanded"}
	st.wide = []string{"no gains: the reading fell as if the door was opened: test again"}
	st.never = []string{"!!", "2:40:30"}
	return st
}
