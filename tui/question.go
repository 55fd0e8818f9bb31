package tui

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"strawline/control"
	"strawline/probe/temp"
	"strawline/profiles"
)

// question is what the screen asks before it hands an Ask over: the consequence in words.
type question struct {
	ask   control.Ask
	text  string
	moot  string // what the answer rests on; the question is withdrawn when it changes
	leave bool
	take  bool // takes the lease of the run over first
}

// basis is what a person had before his eyes when he pressed a key. A question asked of one
// step must not be answered in the next.
func basis(s control.Snapshot) string {
	var b strings.Builder
	fmt.Fprint(&b, s.Phase, s.Step, s.Undo, s.Stay > s.T)
	for _, a := range s.Alarms {
		b.WriteString(a.Code)
		b.WriteString(a.State)
	}
	for _, h := range s.Hidden {
		b.WriteString(h.Code)
		b.WriteString(h.State)
	}
	return b.String()
}

// ask makes the question for a key; an error says why the key has no sense now.
func ask(kind control.AskKind, s control.Snapshot, u temp.Unit) (*question, error) {
	q := &question{ask: control.Ask{Kind: kind, By: "screen"}, moot: basis(s)}
	var err error
	if s.Phase == control.PhaseClosed ||
		s.Phase == control.PhaseEnded && kind != control.AskAcknowledge &&
			kind != control.AskConfirm {
		return nil, errors.New("the run has ended")
	}
	switch kind {
	case control.AskAcknowledge:
		q.text, err = askAcknowledge(s)
	case control.AskReset:
		q.text = "reset latches whose cause is gone"
		if s.Phase == control.PhaseTripped {
			q.text += "; heat stays off until go on"
		}
		if s.Phase != control.PhaseTripped && len(s.Latches) == 0 && len(s.Alarms) == 0 {
			err = errors.New("nothing is latched")
		}
	case control.AskGoOn:
		q.text = "go on with " + stepName(s, s.Step, u) + ": heat may come back"
		if s.Phase != control.PhaseTripped {
			err = errors.New("go on is for after a trip")
		}
	case control.AskConfirm:
		if s.Phase == control.PhaseEnded {
			q.ask.Kind = control.AskAnswer
			q.text = "I know that the run has ended: no more reminders"
			if s.BladeIn {
				q.text = "I know that the run has ended, and the blade is mine to take out: " +
					"no more reminders"
			}
			break
		}
		q.text = "done? " + s.Next + "; then " + stepName(s, s.Step+1, u)
		if !waiting(s) {
			err = errors.New("nothing waits to be confirmed")
		}
	case control.AskMore:
		q.ask.Seconds = 600
		q.text, err = askMore(s)
	case control.AskSkip:
		q.text = "skip to " + stepName(s, s.Step+1, u)
		if s.Soak != control.SoakNone && s.SoakLeft > 0 {
			q.text += "; " + watch(s.SoakLeft) + " of this soak not done"
		}
		q.text += unsaid(s)
		err = running(s)
	case control.AskAgain:
		q.text = stepName(s, s.Step, u) + " from its start"
		if s.SoakDone > 0 {
			q.text += ": the " + watch(s.SoakDone) + " soaked do not count"
		}
	case control.AskUndo:
		q.text = "take back: " + s.Undo
		if s.Undo == "" {
			err = errors.New("nothing to take back")
		}
	case control.AskStop:
		q.text = "stop: the run ends, heat off"
	}
	q.text += "  y/n"
	return q, err
}

// unsaid is what a skipped wait leaves open of the blade, so that the end's reminder surprises
// nobody; "" where the wait's answer would change nothing.
func unsaid(s control.Snapshot) string {
	st, ok := here(s)
	switch {
	case ok && s.BladeIn && st.Load == profiles.LoadOut:
		return "; the blade counts as still in"
	case ok && !s.BladeIn && st.Load == profiles.LoadIn:
		return "; no blade counts as in"
	}
	return ""
}

func running(s control.Snapshot) error {
	if s.Phase != control.PhaseRunning {
		return errors.New("not while " + string(s.Phase))
	}
	if s.Info != nil && s.Info.Test != nil {
		return errors.New("not in a tuning test: stop it, or let it end")
	}
	return nil
}

// stepName names a step by number and kind; past the last one it is the end.
func stepName(s control.Snapshot, i int, u temp.Unit) string {
	if i < 0 || i >= len(s.Steps) {
		return "the end: the run ends, heat off"
	}
	return fmt.Sprintf("step %d, %s", i+1, stepWords(s.Steps[i], u))
}

func askAcknowledge(s control.Snapshot) (string, error) {
	n := 0
	for _, a := range s.Alarms {
		if strings.Contains("BDE", a.State) {
			n++
		}
	}
	switch n {
	case 0:
		return "", errors.New("no alarm waits to be acknowledged")
	case 1:
		return "acknowledge 1 alarm: I have seen it; the heat stays as it is", nil
	}
	return fmt.Sprintf("acknowledge %d alarms: I have seen them; the heat stays as it is", n), nil
}

func askMore(s control.Snapshot) (string, error) {
	st, ok := here(s)
	if !ok || st.Kind != profiles.Soak {
		return "", errors.New("ten minutes more is for a soak")
	}
	text := "ten minutes more on this soak: " + spoken(st.For+10*time.Minute)
	if s.Ready > s.T {
		text += ", ready " + when(s, s.Ready+10*time.Minute)
	}
	return text, running(s)
}

// Longest stay that the screen takes; longer ones are a profile's business.
const longestStay = 12 * time.Hour

// canStay says why the run cannot be asked to stay.
func canStay(s control.Snapshot) error {
	if waiting(s) {
		return errors.New("the run stays here anyway, until the wait is answered")
	}
	return running(s)
}

// askStay reads what was typed, such as 10m, 90s or 1h30m.
func askStay(typed string, s control.Snapshot) (*question, error) {
	t := strings.ReplaceAll(strings.ToLower(strings.TrimSpace(typed)), " ", "")
	t = strings.TrimSuffix(t, "in") // 10min
	d, err := time.ParseDuration(t)
	if err != nil || d <= 0 {
		return nil, fmt.Errorf("%q is not a time: write it as 10m or 1h30m", typed)
	}
	if d > longestStay {
		return nil, fmt.Errorf("%s is too long: 12 h at most", spoken(d))
	}
	return &question{ask: control.Ask{Kind: control.AskStay, By: "screen", Seconds: d.Seconds()},
		text: "stay here for " + spoken(d) + ", the profile waits  y/n", moot: basis(s)}, canStay(s)
}

// topSet is what no setpoint with its band may pass: the lower of both limits.
func topSet(s control.Snapshot) (temp.C, bool) {
	top, ok := s.Info.Profile.Limit, s.Info.Profile.Limit > 0
	if l := temp.C(s.Info.Shop.LimitC); l > 0 && (!ok || l < top) {
		top, ok = l, true
	}
	return top, ok
}

// canSet says why the present step's setpoint cannot be changed.
func canSet(s control.Snapshot) error {
	st, ok := here(s)
	if !ok || st.Kind != profiles.Ramp && st.Kind != profiles.Soak {
		return errors.New("this step has no setpoint")
	}
	return running(s)
}

// askSet reads a setpoint that was typed with its unit.
func askSet(typed string, s control.Snapshot, u temp.Unit) (*question, error) {
	c, _, err := temp.Parse(typed)
	if err != nil {
		return nil, err
	}
	if err := canSet(s); err != nil {
		return nil, err
	}
	st := s.Steps[s.Step]
	if top, ok := topSet(s); !ok || c.Add(st.Band) > top {
		return nil, fmt.Errorf("%s with its band is above the limit, %s", whole(c, u), whole(top, u))
	}
	if c < 0 {
		return nil, fmt.Errorf("%s is below freezing: no setpoint for an oven", whole(c, u))
	}
	return &question{ask: control.Ask{Kind: control.AskSet, By: "screen", TempC: round(float64(c))},
		text: "setpoint " + st.To.Text(u, 1) + " becomes " + c.Text(u, 1) +
			", here and in the steps after it that have the same  y/n",
		moot: basis(s)}, nil
}

// round keeps a ten-thousandth of a degree: enough for any unit, and short in a file.
func round(v float64) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'f', 4, 64), 64)
	if err != nil {
		return v
	}
	return r
}

// leaving is the question before the screen is left.
func leaving(s control.Snapshot, stops bool) *question {
	if !stops || s.Phase == control.PhaseEnded || s.Phase == control.PhaseClosed {
		return nil
	}
	return &question{ask: control.Ask{Kind: control.AskStop, By: "screen"}, leave: true,
		text: "leaving ends the run, heat off: y/n"}
}
