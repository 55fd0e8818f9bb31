package tui

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/control"
	"strawline/probe/temp"
)

func TestLine(t *testing.T) {
	info := scene().Info
	min := func(m float64) time.Duration { return minutes(m) }
	for _, c := range []struct {
		e    control.Event
		want string
	}{
		{control.Event{Kind: control.EvStart, TempC: ptr(20.0), Text: "a temper"},
			"SIMULATED 00:00:00 start: small-knife on simulated oven A; 2026-11-24T14:02:11Z; " +
				"gains: cautious default; room 68.0 °F; a temper"},
		{control.Event{Kind: control.EvStep, Step: ptr(2), Text: "soak 400 °F for 2h0m0s", T: min(19)},
			"00:19:00 step 3 of 8, cycle 1: soak 400 °F for 2h0m0s"},
		{control.Event{Kind: control.EvStep, Step: ptr(3), Word: "skip", Text: "wait: x", T: min(20)},
			"00:20:00 step 4 of 8, cycle 1: wait: x; (skip)"},
		{control.Event{Kind: control.EvSoak, Step: ptr(2), Word: "paused", T: min(63.5)},
			"01:03:30 soak paused; step 3 of 8, cycle 1"},
		{control.Event{Kind: control.EvSoaked, Step: ptr(2), SpanS: ptr(7200.0), T: min(150)},
			"02:30:00 soak done; step 3 of 8, cycle 1; 7200 s in the band"},
		{control.Event{Kind: control.EvWait, Step: ptr(1), Text: "put the blade in", T: min(16)},
			"00:16:00 your turn: put the blade in; step 2 of 8, cycle 1"},
		{control.Event{Kind: control.EvDoubt, Text: "no good reading: open", T: min(40)},
			"00:40:00 doubt, heat away: no good reading: open"},
		{control.Event{Kind: control.EvTrip, Text: "over the limit", T: min(40)},
			"00:40:00 trip, heat off commanded: over the limit"},
		{control.Event{Kind: control.EvAlarm, Code: "over-temperature", Word: "B", T: min(40)},
			"00:40:00 alarm OVER LIMIT new; a probe reads above the limit of this run"},
		{control.Event{Kind: control.EvAlarm, Code: "over-temperature", Word: "A", T: min(41)},
			"00:41:00 alarm OVER LIMIT over"},
		{control.Event{Kind: control.EvAlarm, Word: "silenced", T: min(41)}, "00:41:00 alarms silenced"},
		{control.Event{Kind: control.EvAlarm, Code: "off-plan", Word: "G", SpanS: ptr(600.0), T: min(41),
			Text: "the door is open"}, "00:41:00 alarm OFF PLAN shelved for 10 min; the door is open"},
		{control.Event{Kind: control.EvAlarm, Code: "off-plan", Word: "A", From: "G", T: min(51),
			Text: "its time is over"}, "00:51:00 alarm OFF PLAN no longer shelved; its time is over"},
		{control.Event{Kind: control.EvAlarm, Code: "board-warm", Word: "B", From: "G", T: min(51),
			Text: "the run tripped"}, "00:51:00 alarm BOARD WARM no longer shelved, new; " +
			"the board's own junction is above 45 °C; the run tripped"},
		{control.Event{Kind: control.EvAsk, Word: "done", T: min(41), Ask: &control.Ask{Text: "the sun",
			Kind: control.AskShelve, By: "typed", Seconds: 600, Code: "board-warm"}},
			"00:41:00 asked: shelve BOARD WARM 10 min; the sun; by typed; done"},
		{control.Event{Kind: control.EvAsk, Word: "done", T: min(41),
			Ask: &control.Ask{Kind: control.AskMore, By: "screen", Seconds: 600}},
			"00:41:00 asked: more 10 min; by screen; done"},
		{control.Event{Kind: control.EvAsk, Word: "refused", Text: "the limit", T: min(41),
			Ask: &control.Ask{Kind: control.AskSet, By: "screen", TempC: 215.5556}},
			"00:41:00 asked: set 420.0 °F; by screen; refused the limit"},
		{control.Event{Kind: control.EvLink, Word: "gone", T: min(41)}, "00:41:00 link gone"},
		{control.Event{Kind: control.EvLatch, Word: "open, high limit", T: min(41)},
			"00:41:00 board latches: open, high limit"},
		{control.Event{Kind: control.EvProbe, Chan: ptr(1), Word: "open", T: min(41)},
			"00:41:00 channel 1: open"},
		{control.Event{Kind: control.EvGap, SpanS: ptr(41.0), T: min(41)},
			"00:41:00 gap without a good reading; 41 s"},
		{control.Event{Kind: control.EvEdit, Step: ptr(2), Word: "set", TempC: ptr(210.0),
			SpanS: ptr(7200.0), T: min(41)},
			"00:41:00 changed: set; step 3 of 8, cycle 1; 7200 s; 410.0 °F"},
		{control.Event{Kind: control.EvNote, Text: "door\n\x1b[2Jopen", T: 25 * time.Hour},
			"25:00:00 note; door  [2Jopen"},
		{control.Event{Kind: control.EvEnd, Word: "done", T: min(283)},
			"04:43:00 end: done, heat off commanded"},
		{control.Event{Kind: control.EvClosed, T: min(284)}, "04:44:00 closed: the end was answered"},
		{control.Event{Kind: control.EvLaw, Word: "landing", T: min(2)}, "00:02:00 law: landing"},
		{control.Event{Kind: control.EvGains, Word: "undo", T: min(3), Was: &control.Gains{Kp: 0.054,
			TiS: 120, TdS: 12, Weight: 1, From: "set by a person"}, Gains: &control.Gains{Kp: 0.036,
			TiS: 400, Weight: 0.5, From: "found"}},
			"00:03:00 gains now Kp 0.02/°F, Ti 400 s, Td 0 s, setpoint weight 0.5; found; " +
				"before Kp 0.03/°F, Ti 120 s, Td 12 s, setpoint weight 1; (undo)"},
		{control.Event{Kind: control.EvDuty, DutyPM: ptr(305), SpanS: ptr(90.0), T: min(4)},
			"00:04:00 duty by hand 30.5 %; 90 s"},
		{control.Event{Kind: control.EvDuty, Text: "its time is over", T: min(5)},
			"00:05:00 the law has the duty again; its time is over"},
		{control.Event{Kind: control.EvTest, Word: "swinging", T: min(6)}, "00:06:00 test: swinging"},
		{control.Event{Kind: control.EvAsk, Word: "done", T: min(7), Ask: &control.Ask{
			Kind: control.AskDuty, By: "screen", DutyPM: 305, Seconds: 120}},
			"00:07:00 asked: duty 2 min 30.5 %; by screen; done"},
		{control.Event{Kind: control.EvLost, Text: "3 records", T: min(1)},
			"00:01:00 records lost: 3 records"},
	} {
		assert.Equal(t, c.want, Line(c.e, info, temp.Fahrenheit))
	}
	real := *info
	real.Simulated = false
	assert.NotContains(t, Line(control.Event{Kind: control.EvStart}, &real, temp.Celsius), "SIMULATED")
	assert.Equal(t, "00:00:00 start", Line(control.Event{Kind: control.EvStart}, nil, temp.Celsius))
}

// TestLineIsOneLine: no event, whatever stands in it, breaks the line or moves a cursor.
func TestLineIsOneLine(t *testing.T) {
	kinds := []control.EventKind{control.EvStart, control.EvStep, control.EvAlarm, control.EvAsk,
		control.EvEdit, control.EvNote, control.EvEnd, control.EvProbe, control.EvLaw,
		control.EvTest, control.EvDuty, control.EvUnlike, control.EvGains, "unknown"}
	rapid.Check(t, func(t *rapid.T) {
		e := control.Event{Kind: rapid.SampledFrom(kinds).Draw(t, "kind"),
			Word: rapid.String().Draw(t, "word"), Text: rapid.String().Draw(t, "text"),
			Code: rapid.String().Draw(t, "code"), From: rapid.String().Draw(t, "from"), Step: ptr(rapid.IntRange(-3, 20).Draw(t, "step")),
			Ask: &control.Ask{Kind: control.AskNote, Text: rapid.String().Draw(t, "ask")}}
		line := Line(e, scene().Info, temp.Celsius)
		require.NotEmpty(t, line)
		for _, r := range line {
			require.False(t, r < ' ' || r >= 0x7f && r < 0xa0, "%q", line)
		}
	})
}
