package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"strawline/control"
	"strawline/control/alarm"
	"strawline/probe/temp"
	"strawline/profiles"
)

// plainAsks are the words that a person types in line mode, for those without the screen's keys.
var plainAsks = []struct {
	word string
	kind control.AskKind
	help string
}{
	{"confirm", control.AskConfirm, "the wait is answered"},
	{"silence", control.AskSilence, "stop the noise"},
	{"acknowledge", control.AskAcknowledge, "I have seen the alarms"},
	{"reset", control.AskReset, "clear latches whose cause is gone"},
	{"go on", control.AskGoOn, "leave a trip, after acknowledge and reset"},
	{"heat off", control.AskHeatOff, "heat away at once"},
	{"stay", control.AskStay, "stay here for a while: stay 20m; stay 0s ends it"},
	{"more", control.AskMore, "lengthen this soak: more 10m"},
	{"skip", control.AskSkip, "to the next step"},
	{"again", control.AskAgain, "this step from its start, none of its soak counted"},
	{"set", control.AskSet, "change the setpoint: set 410F"},
	{"gains", control.AskGains, "Kp, Ti, Td, setpoint weight: gains 0.03/C 400s 25s 1"},
	{"duty", control.AskDuty, "heat by hand, up to 10m: duty 30% 5m; duty 0s ends it"},
	{"undo", control.AskUndo, "take back the last change"},
	{"stop", control.AskStop, "end the run, heat off"},
	{"answer", control.AskAnswer, "I know that the run has ended"},
	{"note", control.AskNote, "into the run file: note second blade warped"},
	{"shelve", control.AskShelve, "hide an alarm for a reason: shelve OFF PLAN 10m door open"},
	{"unshelve", control.AskUnshelve, "bring it back: unshelve OFF PLAN"},
}

// parseAsk reads one typed line.
func parseAsk(line string) (control.Ask, error) {
	line = strings.TrimSpace(line)
	for _, p := range plainAsks {
		rest, is := strings.CutPrefix(line, p.word)
		if !is || rest != "" && rest[0] != ' ' {
			continue
		}
		a := control.Ask{Kind: p.kind, By: "typed"}
		return a, fill(&a, strings.TrimSpace(rest), p.word)
	}
	var words []string
	for _, p := range plainAsks {
		words = append(words, p.word)
	}
	return control.Ask{}, fmt.Errorf("%q is not known: type one of %s", line,
		strings.Join(words, ", "))
}

// fill takes what stands behind the word.
func fill(a *control.Ask, rest, word string) error {
	switch a.Kind {
	case control.AskStay, control.AskMore:
		d, err := profiles.ParseSpan(rest)
		if err != nil {
			return fmt.Errorf("%s how long? %w", word, err)
		}
		a.Seconds = d.Seconds()
	case control.AskSet:
		c, _, err := temp.Parse(rest)
		if err != nil {
			return fmt.Errorf("%s to what? %w", word, err)
		}
		a.TempC = float64(c)
	case control.AskGains:
		return fillGains(a, strings.Fields(rest))
	case control.AskDuty:
		return fillDuty(a, strings.Fields(rest))
	case control.AskShelve:
		return fillShelf(a, rest)
	case control.AskUnshelve:
		code, behind := cutAlarm(rest)
		if code == "" || behind != "" {
			return errors.New("unshelve which alarm? write it as unshelve OFF PLAN")
		}
		a.Code = code
	case control.AskNote:
		if rest == "" {
			return fmt.Errorf("note what? write it behind the word")
		}
		a.Text = rest
	default:
		if rest != "" {
			return fmt.Errorf("%q is too much behind %s", rest, word)
		}
	}
	return nil
}

// fillGains reads Kp and Ti, and Td and the setpoint weight if they are there.
func fillGains(a *control.Ask, words []string) error {
	var kp gainValue
	g := control.Gains{Weight: 1, From: "typed"}
	if len(words) < 2 || len(words) > 4 {
		return fmt.Errorf("gains which? write Kp, Ti, Td and the setpoint weight, as " +
			"gains 0.03/C 400s 25s 1")
	}
	err := kp.Set(words[0])
	g.Kp = kp.perC
	for i, to := range []*float64{&g.TiS, &g.TdS} {
		if i+1 < len(words) && err == nil {
			var d time.Duration
			d, err = profiles.ParseSpan(words[i+1])
			*to = d.Seconds()
		}
	}
	if len(words) == 4 && err == nil {
		g.Weight, err = finite(words[3])
	}
	a.Gains = &g
	return err
}

// fillDuty reads a duty in per cent and how long, or 0s alone.
func fillDuty(a *control.Ask, words []string) error {
	const how = "duty of how much, for how long? write it as duty 30% 5m; duty 0s ends it"
	if len(words) == 0 || len(words) > 2 {
		return errors.New(how)
	}
	d, err := profiles.ParseSpan(words[len(words)-1])
	a.Seconds = d.Seconds()
	switch {
	case err != nil:
		return err
	case len(words) == 1 && d == 0:
		return nil
	case len(words) == 1 || d == 0:
		return errors.New(how)
	}
	number, is := strings.CutSuffix(words[0], "%")
	v, err := finite(number)
	if !is || err != nil || !(v >= 0 && v <= 100) {
		return fmt.Errorf("%q is no duty: write it as 30%%, 0%% to 100%%", words[0])
	}
	a.DutyPM = int(math.Round(10 * v))
	return nil
}

// fillShelf reads an alarm by its word or its code, how long it is to be shelved, and why.
func fillShelf(a *control.Ask, rest string) error {
	const how = "write it as shelve OFF PLAN 10m the door is open"
	code, behind := cutAlarm(rest)
	span, why, _ := strings.Cut(behind, " ")
	if code == "" {
		var words []string
		for _, d := range alarm.First() {
			if d.Hidable {
				words = append(words, d.Word)
			}
		}
		return fmt.Errorf("shelve which alarm? %s can be: %s", strings.Join(words, ", "), how)
	}
	d, err := profiles.ParseSpan(span)
	if err != nil {
		return fmt.Errorf("shelve for how long? %w", err)
	}
	if why = strings.TrimSpace(why); why == "" {
		return errors.New("shelve why? " + how)
	}
	a.Code, a.Seconds, a.Text = code, d.Seconds(), why
	return nil
}

// cutAlarm finds the alarm whose word or code a text begins with, in capitals or not, and gives
// its code and what is behind it; "" if there is none.
func cutAlarm(text string) (code, behind string) {
	for _, d := range alarm.First() {
		for _, name := range []string{d.Word, d.Code} {
			n := len(name)
			if len(text) < n || !strings.EqualFold(text[:n], name) || len(text) > n && text[n] != ' ' {
				continue
			}
			return d.Code, strings.TrimSpace(text[n:])
		}
	}
	return "", ""
}

// listen hands typed lines to the run until the input ends. What it does not understand it says
// on stderr, so that the events on stdout stay whole.
func (h *host) listen(in io.Reader, ask func(control.Ask)) {
	lines := bufio.NewScanner(in)
	for lines.Scan() {
		if strings.TrimSpace(lines.Text()) == "" {
			continue
		}
		a, err := parseAsk(lines.Text())
		if err != nil {
			fmt.Fprintf(h.err, "strawline: %s\n", err)
			continue
		}
		ask(a)
	}
}
