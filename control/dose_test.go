package control

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe/temp"
	"strawline/profiles"
	"strawline/profiles/steel"
)

// soakedPath gives the dose of a run with one soak of two hours, judged by its air, whose
// temperature is path's at each second.
func soakedPath(name string, set temp.C, path func(s int) temp.C) Dose {
	info := testInfo(profiles.Profile{Steps: []profiles.Step{
		{Kind: profiles.Soak, To: set, For: 2 * time.Hour, Band: temp.DeltaF(10)}}})
	info.Blade = &BladeInfo{Steel: name}
	v := NewView(info)
	v.Apply(Record{Event: &Event{Kind: EvStep, Step: ptr(0)}})
	for s := range 2*3600 + 1 {
		t := float64(path(s))
		v.Apply(Record{Sample: &Sample{T: time.Duration(s) * time.Second, Temp: []*float64{&t}}})
	}
	return v.Snapshot().Dose
}

// TestAnExcursionCosts: ten minutes at 500 °F inside 2 h at 400 °F take 1.7 HRC, and 10 °F too
// hot throughout takes 0.37, on the curve of 0.89 % C (computed by the lead from the published
// points, provenance "computed"). 10 °F are in the band: no excursion.
func TestAnExcursionCosts(t *testing.T) {
	set := temp.F(400)
	flat := soakedPath("1084", set, func(int) temp.C { return set })
	require.InDelta(t, 400, temp.C(flat.LikeC).F(), 0.01)
	require.InDelta(t, 7200, flat.SameS, 1)
	require.Zero(t, flat.Cost)
	require.Empty(t, flat.CostWords())

	peak := soakedPath("1084", set, func(s int) temp.C {
		if s >= 3000 && s < 3600 {
			return temp.F(500)
		}
		return set
	})
	require.InDelta(t, 1.7, peak.Cost, 0.1)
	require.InDelta(t, peak.Cost, flat.HRC-peak.HRC, 0.01, "what it costs is what is missing")
	require.InDelta(t, 600, peak.OverS, 1)
	require.Equal(t, "the last excursion cost 1.7 HRC", peak.CostWords())

	require.Contains(t, peak.sentences(temp.Fahrenheit), "makes steel brittle for its hardness")
	require.Empty(t, flat.Caution)

	warm := soakedPath("1084", set, func(int) temp.C { return temp.F(409.99) })
	require.InDelta(t, 0.37, flat.HRC-warm.HRC, 0.02)
	require.Zero(t, warm.OverS)
}

// TestTwoExcursionsAreTwo: the last one's cost is its own.
func TestTwoExcursionsAreTwo(t *testing.T) {
	set := temp.F(400)
	only := func(from int) func(int) temp.C {
		return func(s int) temp.C {
			if s >= from && s < from+300 {
				return temp.F(440)
			}
			return set
		}
	}
	both := soakedPath("1084", set, func(s int) temp.C { return max(only(1000)(s), only(5000)(s)) })
	require.InDelta(t, 300, both.OverS, 1)
	second := soakedPath("1084", set, only(5000))
	require.Less(t, both.Cost, second.Cost, "the second hot spell finds steel that had one")
	require.Greater(t, both.Cost, 0.0)
}

func TestWhatCannotBeSaidOfADoseIsSaid(t *testing.T) {
	hold := func(c temp.C) func(int) temp.C { return func(int) temp.C { return c } }
	for name, c := range map[string]struct {
		steel string
		at    temp.C
		says  string
	}{
		"no steel":   {"", 204, "no steel was named"},
		"unknown":    {"starmetal", 204, "no figures of starmetal are here"},
		"no curve":   {"D2", 204, "maker's sheet"},
		"too hot":    {"1084", 450, "nothing was measured above"},
		"not a heat": {"1084", 100, "nothing was measured below"},
	} {
		d := soakedPath(c.steel, c.at, hold(c.at))
		require.False(t, d.Known, name)
		require.Contains(t, d.Hardness(), c.says, name)
		require.Empty(t, d.Short()+d.Ends()+d.CostWords(), name)
		require.Contains(t, d.sentences(temp.Fahrenheit), "No hardness can be said", name)
	}
	cold := soakedPath("1084", 100, hold(100))
	require.Empty(t, cold.Equal(temp.Fahrenheit), "100 °C is no temper")
	hot := soakedPath("1084", 800, hold(800))
	require.Empty(t, hot.Equal(temp.Fahrenheit), "nor is hardening")
	require.Contains(t, hot.line(temp.Celsius), "hotter than 400 °C")
	air := soakedPath("1084", 204.4, hold(204.4))
	require.Contains(t, air.sentences(temp.Fahrenheit), "harder where the blade lagged behind the air")
}

// TestAHardnessHasTheDigitsOfItsBand: half an HRC, a whole one where the band is wide.
func TestAHardnessHasTheDigitsOfItsBand(t *testing.T) {
	require.Equal(t, "61.5 HRC (58.5 to 64)", (&Dose{Known: true, HRC: 61.46, Band: 2.5}).Hardness())
	require.Equal(t, "55 HRC (50 to 60)", (&Dose{Known: true, HRC: 55.3, Band: 4.5}).Hardness())
}

// twoCycles is a two-cycle temper whose person answers each wait at once.
func twoCycles(t *testing.T) (*bench, Info, []Record) {
	p, err := profiles.Temper(temp.F(400), 10*time.Minute, 2, temp.DeltaF(10), temp.Fahrenheit)
	require.NoError(t, err)
	info := testInfo(*p)
	info.Blade.Steel = "1084"
	b := newBench(t, *p)
	b.e, err = New(Config{Info: info, Belief: b.e.cfg.Belief})
	require.NoError(t, err)
	var kept []Record
	for b.e.Phase() == PhaseRunning && b.now < 6*time.Hour {
		if s := b.e.Snapshot(); s.Steps[s.Step].Kind == profiles.Wait {
			b.asks = append(b.asks, Ask{Kind: AskConfirm})
		}
		b.step()
		for _, r := range b.out.Records {
			kept = append(kept, r.Kept())
		}
	}
	require.Equal(t, PhaseEnded, b.e.Phase())
	return b, info, kept
}

// TestBothCyclesAreOneDose: what the run file says of the dose at each soak's end and at the
// run's end, its samples give again: by a replay, and by profiles/steel alone.
func TestBothCyclesAreOneDose(t *testing.T) {
	b, info, kept := twoCycles(t)
	v := NewView(info)
	alone, has, last, at := steel.Dose{}, false, temp.C(0), time.Duration(0)
	var said []Dose
	for _, r := range kept {
		v.Apply(r)
		if e := r.Event; e != nil && e.Kind == EvDose {
			require.InDelta(t, alone.P, e.Dose.P, 2e-5)
			require.Equal(t, DoseModelled, e.Dose.By)
			said = append(said, *e.Dose)
		}
		if s := r.Sample; s != nil {
			if s.Blade != nil && has {
				alone = alone.Ramp(last, temp.C(*s.Blade), s.T-at)
			}
			if has = s.Blade != nil; has {
				last, at = temp.C(*s.Blade), s.T
			}
		}
	}
	require.Len(t, said, 3, "two soaks and the end")
	require.Greater(t, said[1].P, said[0].P)
	require.Less(t, said[1].HRC, said[0].HRC)
	require.InDelta(t, said[1].P, said[2].P, 0.03, "the run ends soon after the second soak")
	require.Equal(t, b.e.Snapshot().Dose, v.Snapshot().Dose)

	verdict := b.last(EvDose)
	require.Equal(t, DoseEnd, verdict.Word)
	require.Equal(t, verdict.Text, v.Snapshot().Dose.Verdict)
	require.Contains(t, verdict.Text, "By the modelled blade, all heats as one, this was like 2 h 00 at")
	require.Contains(t, verdict.Text, "1084, if fully hardened, is then about")
}

// TestTheBladesFinishAndFan: thinner, blacker and blown on, a blade follows sooner; the figures
// are those of the table computed for 4 mm, within 3 %.
func TestTheBladesFinishAndFan(t *testing.T) {
	for _, c := range []struct {
		b BladeInfo
		s float64
	}{
		{BladeInfo{ThickMM: 4}, 1381},
		{BladeInfo{ThickMM: 4, Finish: FinishBright}, 2305},
		{BladeInfo{ThickMM: 4, Fan: true}, 866},
		{BladeInfo{ThickMM: 6, Fan: true}, 1300},
		{BladeInfo{ThickMM: 4, ConvectionW: steel.Fanned}, 866},
	} {
		require.InEpsilon(t, c.s, c.b.wait(22, 200, 5).Seconds(), 0.03, "%+v", c.b)
	}
}

// TestTheModelIsFoundFromARun: a probe at the blade and one in the air, and what the air gives
// the blade is found again; not from a test of the oven, a blade without thickness or no probe.
func TestTheModelIsFoundFromARun(t *testing.T) {
	found := func(change func(*Info)) (float64, float64, error) {
		info := testInfo(profiles.Profile{Steps: []profiles.Step{
			{Kind: profiles.Soak, To: 200, For: time.Hour, Band: 5}}})
		info.Shop.Channels = []string{"oven air", RoleBlade}
		change(&info)
		v := NewView(info)
		v.Apply(Record{Event: &Event{Kind: EvStep, Step: ptr(0)}})
		truth, blade, air := &BladeInfo{ThickMM: 4, ConvectionW: 12}, temp.C(22), 200.0
		for s := range 3000 {
			b := round(float64(blade), 100)
			v.Apply(Record{Sample: &Sample{T: time.Duration(s) * time.Second, Temp: []*float64{&air, &b}}})
			blade = truth.lag(blade, 200, time.Second)
		}
		f := v.Fit()
		return f.Convection()
	}
	w, within, err := found(func(*Info) {})
	require.NoError(t, err)
	require.InEpsilon(t, 12, w, 0.02)
	require.Less(t, within, 0.5)
	for name, change := range map[string]func(*Info){
		"a test":   func(i *Info) { i.Test = &TestInfo{} },
		"no probe": func(i *Info) { i.Shop.Channels[1] = "case" },
		"no blade": func(i *Info) { i.Blade = nil },
	} {
		_, _, err := found(change)
		require.Error(t, err, name)
	}
}

// TestASteelOfOnesOwn goes by its certificate on the curves of the grade that it is like.
func TestASteelOfOnesOwn(t *testing.T) {
	hrc := func(b BladeInfo) float64 {
		d := newDosing(&Info{Blade: &b})
		require.True(t, d.known, d.whyNot)
		e, err := d.steel.After(steel.Soaked(temp.F(400), 2*time.Hour), 0)
		require.NoError(t, err)
		return e.HRC
	}
	want, err := steel.PlainCurve(0.80)
	require.NoError(t, err)
	at := steel.Soaked(temp.F(400), 2*time.Hour)
	lean := steel.Composition{C: 0.80, Mn: 0.7}
	for _, b := range []BladeInfo{{Steel: "bar-2", Like: "1084", Makeup: &lean},
		{Steel: "bar-2", Makeup: &lean}} {
		require.InDelta(t, want.HRC(at), hrc(b), 1e-9)
	}
	require.InDelta(t, hrc(BladeInfo{Steel: "1084"}), hrc(BladeInfo{Steel: "b", Like: "1084"}), 1e-9)
	d := newDosing(&Info{Blade: &BladeInfo{Steel: "x", Like: "none", Makeup: &lean}})
	require.False(t, d.known)
}
