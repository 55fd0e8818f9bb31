package main

import (
	"bufio"
	"fmt"
	"io"
	"strings"

	"strawline/control"
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
	{"set", control.AskSet, "change the setpoint: set 410F"},
	{"undo", control.AskUndo, "take back the last change"},
	{"stop", control.AskStop, "end the run, heat off"},
	{"answer", control.AskAnswer, "I know that the run has ended"},
	{"note", control.AskNote, "into the run file: note second blade warped"},
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
