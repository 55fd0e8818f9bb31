package tui

import (
	"fmt"
	"strings"
	"time"

	"strawline/control"
	"strawline/probe/temp"
)

// Call says how a screen calls a person who does not look at it, by escape sequences to its
// terminal; all off unless asked for, and always off in a replay and where there is no terminal.
type Call struct {
	Bell   bool // BEL at a new alarm, at a wait that asks for a person and at the end
	Title  bool // the state in few words in the window's title, which is put back afterwards
	Notify bool // a notification of the desktop, where the bell would ring for something new
}

// When a screen calls again. Our choices.
const (
	bellEvery  = time.Minute // while an alarm stands that nobody silenced or acknowledged
	titleEvery = time.Second // at most one new title in so long
)

// occurrence is one time that an alarm was raised, or that a wait began.
type occurrence struct {
	what string
	at   time.Duration
}

// caller is what a screen has called for so far. What it finds when it comes up counts as new.
type caller struct {
	how     Call
	known   map[occurrence]bool // alarms; true where somebody silenced it
	waited  occurrence
	ended   bool
	lost    bool // no news from the run
	rangAt  time.Time
	title   string
	titleAt time.Time
}

// look gives the escape sequences that a Snapshot is worth; "" for none. l gives the unit and for
// how long the run has said nothing.
func (c *caller) look(s control.Snapshot, l Look, now time.Time) string {
	if c.how == (Call{}) || s.Info == nil {
		return ""
	}
	var out strings.Builder
	news := c.news(s, l.Quiet, l.Unit)
	if c.how.Notify && len(news) > 0 {
		out.WriteString(noteSequence(noteText(s, news)))
	}
	if c.how.Bell && (len(news) > 0 || c.again(s, now)) {
		c.rangAt = now
		out.WriteString(bellSequence)
	}
	if t := titleText(s, l.Quiet, l.Unit); c.how.Title && t != c.title &&
		now.Sub(c.titleAt) >= titleEvery {
		c.title, c.titleAt = t, now
		out.WriteString(titleSequence(t))
	}
	return out.String()
}

// news gives what is new and worth calling a person for.
func (c *caller) news(s control.Snapshot, quiet time.Duration, u temp.Unit) (news []string) {
	if quiet > 0 && !c.lost {
		news = append(news, "no news from the run")
	}
	c.lost = quiet > 0
	known := make(map[occurrence]bool, len(s.Alarms))
	for _, a := range s.Alarms {
		if !unseen(a) {
			continue
		}
		o := occurrence{a.Code, a.Since}
		silenced, old := c.known[o]
		known[o] = silenced || a.Silent
		if !old && !a.Silent {
			news = append(news, strings.ToUpper(a.Word)+", "+a.Text)
		}
	}
	c.known = known
	if waiting(s) {
		if o := (occurrence{s.Steps[s.Step].Say, s.StepT}); o != c.waited {
			c.waited = o
			news = append(news, "YOUR TURN, "+s.Steps[s.Step].Say)
		}
	}
	over := s.Phase == control.PhaseEnded || s.Phase == control.PhaseClosed
	if over && !c.ended {
		text := "the run has ended, " + s.Info.Off()
		if l := s.Left(u); l != "" {
			text += "; " + l
		}
		news = append(news, text+": "+s.Why)
	}
	c.ended = over
	return news
}

// unseen says that nobody has acknowledged an alarm yet.
func unseen(a control.Alarm) bool { return a.State != "" && strings.Contains("BDE", a.State) }

// again says that the bell rings once more for what stands: an alarm that was neither silenced nor
// acknowledged, or an end that nobody has answered, as often as the run reminds of it.
func (c *caller) again(s control.Snapshot, now time.Time) bool {
	since := now.Sub(c.rangAt)
	if s.Phase == control.PhaseClosed {
		return false
	}
	for _, a := range s.Alarms {
		if since >= bellEvery && unseen(a) && a.State != "D" && !c.known[occurrence{a.Code, a.Since}] {
			return true
		}
	}
	return s.Phase == control.PhaseEnded && since >= control.RemindEvery
}

// noteText is the text of a notification of all that is new at once.
func noteText(s control.Snapshot, news []string) string {
	who := "Strawline"
	if s.Info.Simulated {
		who += " SIMULATED"
	}
	text := fmt.Sprintf("%s, %s: %s", who, s.Info.Profile.Name, news[0])
	if len(news) > 1 {
		text += fmt.Sprintf("; %d more", len(news)-1)
	}
	return text
}

// titleText says how a run stands in few words, what matters most first.
func titleText(s control.Snapshot, quiet time.Duration, u temp.Unit) string {
	reads := "no reading"
	if s.HasTemp && quiet == 0 {
		reads = whole(s.Temp, u)
	}
	var parts []string
	word, _ := shout(s, quiet)
	switch {
	case quiet > 0:
		parts = []string{"NO NEWS!"}
	case s.Phase == control.PhaseClosed:
		parts = []string{"ended"}
	case word != "":
		parts = []string{word + "!"}
		if s.HasTemp {
			parts[0] += " " + reads
		}
	case s.Phase == control.PhaseEnded:
		parts = []string{"ENDED", reads}
		if s.BladeIn {
			parts = append(parts, "take the blade out")
		}
	case waiting(s):
		parts = []string{"YOUR TURN", reads, s.Steps[s.Step].Say}
	default:
		parts = []string{reads}
	}
	st, ok := here(s)
	switch {
	case !ok || s.Phase != control.PhaseRunning || waiting(s) || quiet > 0:
	case s.Soak != control.SoakNone:
		parts = append(parts, "soak "+spoken(s.SoakLeft)+" left")
	default:
		parts = append(parts, stepWords(st, u))
	}
	parts = append(parts, s.Info.Profile.Name)
	if s.Info.Simulated {
		parts = append([]string{"SIMULATED"}, parts...)
	}
	return strings.Join(parts, " · ")
}
