package control

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/control/alarm"
	"strawline/probe"
	"strawline/probe/belief"
	"strawline/probe/temp"
	"strawline/profiles"
)

func shelveFor(d time.Duration) Ask {
	return Ask{Kind: AskShelve, Code: alarm.OffPlan, Seconds: d.Seconds(), Text: " the door \n stood open "}
}

// offPlan is a bench in a counting soak whose oven has been outside its band for long enough.
func offPlan(t *testing.T) *bench {
	b := atSoak(t, time.Hour)
	b.watts = func(duty int) float64 { return 0 } // the elements are cold, whatever is commanded
	b.until(time.Hour, "off plan", func(s Snapshot) bool { return stands(s, alarm.OffPlan) })
	require.True(t, alarm.Sounding(b.e.alarms))
	return b
}

// TestAShelvedAlarmIsCountedApart: it neither sounds nor stands, is named with its reason and its
// time, and comes back by itself by the run's clock.
func TestAShelvedAlarmIsCountedApart(t *testing.T) {
	b := offPlan(t)
	require.Empty(t, b.ask(shelveFor(20*time.Second)))
	s := b.e.Snapshot()
	require.Empty(t, s.Alarms)
	require.Equal(t, []Hidden{{Code: alarm.OffPlan, Word: "OFF PLAN", State: "G",
		Reason: "the door stood open", Until: s.T + 20*time.Second}}, s.Hidden)
	require.False(t, alarm.Sounding(b.e.alarms))
	b.run(20*time.Second - tick)
	require.Len(t, b.e.Snapshot().Hidden, 1)
	b.step()
	s = b.e.Snapshot()
	require.Empty(t, s.Hidden)
	require.True(t, stands(s, alarm.OffPlan))
	require.Equal(t, s.T, s.Alarms[0].Since, "it is raised anew")
	require.Equal(t, "outside the band in a soak, or too far behind on a ramp", s.Alarms[0].Text)
	require.True(t, alarm.Sounding(b.e.alarms))
	ev := b.last(EvAlarm)
	require.Equal(t, []string{"B", "G", "its time is over"}, []string{ev.Word, ev.From, ev.Text})
	require.Equal(t, PhaseRunning, b.e.Phase())
}

func TestAShelvedAlarmWhoseCauseHasGoneComesBackAsNone(t *testing.T) {
	b := atSoak(t, time.Hour)
	require.Empty(t, b.ask(shelveFor(alarm.MostShelf)), "shelving before it comes: the door will open")
	b.run(alarm.MostShelf)
	s := b.e.Snapshot()
	require.Empty(t, s.Hidden)
	require.Empty(t, s.Alarms)
	require.Equal(t, "A", b.last(EvAlarm).Word)
}

func TestUnshelvingBringsAnAlarmBackAtOnce(t *testing.T) {
	b := offPlan(t)
	require.Empty(t, b.ask(shelveFor(time.Minute)))
	require.Empty(t, b.ask(Ask{Kind: AskUnshelve, Code: alarm.OffPlan}))
	require.True(t, stands(b.e.Snapshot(), alarm.OffPlan))
	require.Empty(t, b.e.Snapshot().Hidden)
	require.Equal(t, "OFF PLAN is not shelved", b.ask(Ask{Kind: AskUnshelve, Code: alarm.OffPlan}))
}

// TestWhatIsNotShelved: each refusal is an event in one line that says why.
func TestWhatIsNotShelved(t *testing.T) {
	b := atSoak(t, time.Hour)
	for want, a := range map[string]Ask{
		"OVER LIMIT cannot be shelved":       {Code: alarm.OverTemperature, Seconds: 60, Text: "x"},
		"NO READING cannot be shelved":       {Code: alarm.NoReading, Seconds: 60, Text: "x"},
		"TIME IS UP cannot be shelved":       {Code: alarm.RunOver, Seconds: 60, Text: "x"},
		"shelving an alarm needs a reason":   {Code: alarm.OffPlan, Seconds: 60, Text: " \t\n\x1b\a"},
		"shelve for 1 s to 30 min":           {Code: alarm.OffPlan, Seconds: 1801, Text: "x"},
		"the reason has more than 60":        {Code: alarm.OffPlan, Seconds: 60, Text: strings.Repeat("ä", 61)},
		`no alarm is called "no such alarm"`: {Code: "no such alarm", Seconds: 60, Text: "x"},
	} {
		a.Kind = AskShelve
		require.Contains(t, b.ask(a), want)
		require.Empty(t, b.e.Snapshot().Hidden)
		require.NotContains(t, b.last(EvAsk).Text, "\n")
	}
	for _, s := range []float64{0, -1, 1e300} {
		require.NotEmpty(t, b.ask(Ask{Kind: AskShelve, Code: alarm.OffPlan, Seconds: s, Text: "x"}))
	}
	require.Contains(t, b.ask(Ask{Kind: AskUnshelve, Code: "x"}), "no alarm is called")
	require.Empty(t, b.ask(shelveFor(time.Minute)))
	require.Equal(t, "OFF PLAN is shelved already", b.ask(shelveFor(time.Minute)))
	require.Equal(t, 12, b.e.Snapshot().Refusals)
}

// TestAReasonIsOneLineForEveryTerminal: it comes from whoever asks, and is printed where no screen
// cleans it.
func TestAReasonIsOneLineForEveryTerminal(t *testing.T) {
	b := offPlan(t)
	a := shelveFor(time.Minute)
	a.Text = "the\x1b]2;door\a stood\u202e\u009b open"
	require.Empty(t, b.ask(a))
	require.Equal(t, "the ]2;door stood open", b.e.Snapshot().Hidden[0].Reason)
}

func TestATripAndTheEndUnshelve(t *testing.T) {
	for why, end := range map[string]AskKind{"the run tripped": AskHeatOff, "the run ended": AskStop} {
		b := offPlan(t)
		require.Empty(t, b.ask(shelveFor(alarm.MostShelf)))
		b.evs = nil
		require.Empty(t, b.ask(Ask{Kind: end}))
		require.Empty(t, b.e.Snapshot().Hidden, end)
		require.True(t, stands(b.e.Snapshot(), alarm.OffPlan), end)
		found := false
		for _, e := range b.evs {
			found = found || e.Kind == EvAlarm && e.From == "G" && e.Text == why
		}
		require.True(t, found, end)
		require.Equal(t, "only while the run goes on", b.ask(shelveFor(time.Minute)))
	}
}

// TestAFailedEngineLeavesNothingShelved: its keeper tells of the trip and the end alone.
func TestAFailedEngineLeavesNothingShelved(t *testing.T) {
	for _, kind := range []EventKind{EvTrip, EvEnd} {
		b := atSoak(t, time.Hour)
		require.Empty(t, b.ask(shelveFor(time.Minute)))
		v := b.e.View()
		require.Len(t, v.Snapshot().Hidden, 1)
		v.Apply(Record{Event: &Event{T: b.now, Kind: kind, Text: "the program failed"}})
		require.Empty(t, v.Snapshot().Hidden, kind)
	}
}

// TestARestartUnshelves: who shelved it may not be there any more.
func TestARestartUnshelves(t *testing.T) {
	b, rs := recorded(t)
	b.asks = append(b.asks, shelveFor(alarm.MostShelf))
	rs = kept(b, time.Second, rs)
	require.Len(t, b.e.Snapshot().Hidden, 1)
	n := cut(t, b, rs, time.Second)
	n.run(time.Second)
	require.Empty(t, n.e.Snapshot().Hidden)
	for _, st := range n.e.alarms {
		require.NotEqual(t, alarm.G, st.Letter)
	}
}

// TestAReplayShowsWhatIsShelved folds the records of shelving a second time.
func TestAReplayShowsWhatIsShelved(t *testing.T) {
	b := newBench(t, temper(t, time.Hour))
	v := NewView(testInfo(temper(t, time.Hour)))
	seen := 0
	for n := range 4 * 600 {
		switch n % 400 {
		case 40:
			b.asks = append(b.asks, shelveFor(time.Minute), Ask{Kind: AskShelve, Code: alarm.BoardWarm,
				Seconds: 90, Text: "sun"})
		case 120:
			b.asks = append(b.asks, Ask{Kind: AskUnshelve, Code: alarm.OffPlan})
		}
		b.step()
		for _, r := range b.out.Records {
			v.Apply(r)
		}
		require.Equal(t, b.e.Snapshot(), v.Snapshot())
		seen += len(v.Snapshot().Hidden)
	}
	require.Positive(t, seen)
}

// TestShelvingChangesNoDutyAndNoTrip drives two engines with the same of everything that a shop
// can do; in one of them a person shelves and unshelves as well. All else that they decide and
// record is the same.
func TestShelvingChangesNoDutyAndNoTrip(t *testing.T) {
	codes := []string{"", "no such alarm"}
	for _, d := range alarm.First() {
		codes = append(codes, d.Code)
	}
	hidden, trips, raised := 0, 0, 0
	rapid.Check(t, func(t *rapid.T) {
		p, err := profiles.Temper(temp.F(400), time.Minute, 2, temp.DeltaF(10), temp.Fahrenheit)
		require.NoError(t, err)
		info := testInfo(*p)
		if rapid.Bool().Draw(t, "in a soak") {
			info.Profile.Steps = []profiles.Step{{Kind: profiles.Soak, To: 60, For: time.Hour, Band: 6}}
		}
		one, err := New(Config{Info: info, Belief: belief.Default()})
		require.NoError(t, err)
		two, err := New(Config{Info: info, Belief: belief.Default()})
		require.NoError(t, err)
		now, y := time.Duration(0), 58.0
		shift := rapid.Float64Range(-0.3, 0.3).Draw(t, "drift")
		for i := range rapid.IntRange(40, 600).Draw(t, "steps") {
			now += tick
			in := Input{Batch: probe.Batch{Link: probe.Link{State: probe.LinkUp, Heats: true}}}
			y += shift + rapid.Float64Range(-0.2, 0.2).Draw(t, "rise")
			r := probe.Reading{At: now, Channel: 1, Hot: temp.C(y), Cold: 22, HasCold: true, Raw: uint32(i)}
			switch rapid.IntRange(0, 200).Draw(t, "fault") {
			case 0:
				r.Fault = probe.FaultOpen
			case 1:
				in.Batch.Boots = append(in.Batch.Boots, probe.Board{Name: "b"})
			case 2:
				r.Latches = probe.LatchHighLimit
			case 3:
				now += 3 * time.Second
			}
			in.Batch.Readings = append(in.Batch.Readings, r)
			if rapid.IntRange(0, 20).Draw(t, "asks") == 0 {
				in.Asks = append(in.Asks, Ask{Kind: rapid.SampledFrom([]AskKind{AskAcknowledge, AskReset,
					AskGoOn, AskConfirm, AskSilence}).Draw(t, "ask")})
			}
			shelving := in
			if rapid.IntRange(0, 10).Draw(t, "shelves") == 0 {
				a := Ask{Kind: rapid.SampledFrom([]AskKind{AskShelve, AskShelve, AskUnshelve}).Draw(t, "kind"),
					Code:    rapid.SampledFrom(append(codes, alarm.OffPlan, alarm.OffPlan)).Draw(t, "code"),
					Seconds: rapid.SampledFrom([]float64{2, 10, 1800, 1e9}).Draw(t, "for"), Text: "because"}
				shelving.Asks = append([]Ask{a}, in.Asks...)
			}
			o1, o2 := one.Step(now, in), two.Step(now, shelving)
			hidden += len(two.Snapshot().Hidden)
			raised += len(one.Snapshot().Alarms)
			if one.Phase() == PhaseTripped {
				trips++
			}
			require.Equal(t, o1.Duty, o2.Duty)
			require.Equal(t, o1.ResetBoard, o2.ResetBoard)
			require.Equal(t, one.Phase(), two.Phase())
			require.Equal(t, besides(o1.Records), besides(o2.Records))
			for j, d := range two.table { // neither is what may not be hidden
				if !d.Hidable {
					require.Equal(t, one.alarms[j], two.alarms[j], d.Code)
				}
			}
		}
	})
	require.Positive(t, hidden)
	require.Positive(t, trips)
	require.Positive(t, raised)
}

// besides gives records without those of alarms and of shelving.
func besides(rs []Record) (out []Record) {
	for _, r := range rs {
		if e := r.Event; e != nil && (e.Kind == EvAlarm ||
			e.Ask != nil && (e.Ask.Kind == AskShelve || e.Ask.Kind == AskUnshelve)) {
			continue
		}
		out = append(out, r)
	}
	return out
}

func TestShelvingNeedsTheLeaseAndUnshelvingDoesNot(t *testing.T) {
	require.True(t, AskShelve.Raises())
	require.False(t, AskUnshelve.Raises())
}

func TestTheBoundsOfAShelf(t *testing.T) {
	b := atSoak(t, time.Hour)
	for _, s := range []float64{1, 1.2346, alarm.MostShelf.Seconds()} {
		a := Ask{Kind: AskShelve, Code: alarm.OffPlan, Seconds: s, Text: strings.Repeat("ä", MostReason)}
		require.Empty(t, b.ask(a))
		h := b.e.Snapshot().Hidden[0]
		require.InDelta(t, s, (h.Until - b.e.Snapshot().T).Seconds(), 0.0005, "to the millisecond")
		require.Equal(t, a.Text, h.Reason)
		require.Empty(t, b.ask(Ask{Kind: AskUnshelve, Code: alarm.OffPlan}))
	}
}

// TestTheTextOfAnAlarmIsItsCause: what an event says of it, but not why it came off the shelf.
func TestTheTextOfAnAlarmIsItsCause(t *testing.T) {
	v := NewView(testInfo(temper(t, time.Hour)))
	told := func(from, text string) string {
		v.Apply(Record{Event: &Event{Kind: EvAlarm, Code: alarm.OffPlan, Word: "B", From: from, Text: text}})
		return v.Snapshot().Alarms[0].Text
	}
	cause := alarm.First()[alarm.First().Index(alarm.OffPlan)].Cause
	require.Equal(t, cause, told("", ""))
	require.Equal(t, cause, told("G", "its time is over"))
	require.Equal(t, "30 °C below", told("", "30 °C below"))
}

// TestWhatIsHiddenOtherwiseStandsApartToo: suppressed or out of service, which nothing asks for yet.
func TestWhatIsHiddenOtherwiseStandsApartToo(t *testing.T) {
	v := NewView(testInfo(temper(t, time.Hour)))
	for _, letter := range []alarm.Letter{alarm.G, alarm.H, alarm.I} {
		v.Apply(Record{Event: &Event{Kind: EvAlarm, Code: alarm.OffPlan, Word: letter.String()}})
		require.Empty(t, v.Snapshot().Alarms)
		require.Equal(t, letter.String(), v.Snapshot().Hidden[0].State)
		require.Zero(t, v.Snapshot().Hidden[0].Until)
	}
}
