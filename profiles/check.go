package profiles

import (
	"fmt"
	"math"
	"strings"
	"time"

	"strawline/probe/temp"
)

// The limits of a profile. All are our own, chosen so that a slip of the pen is caught.
const (
	MaxSteps    = 200              // written out
	MaxRepeats  = 10               // of one repeat
	MaxTotal    = 48 * time.Hour   // plan, and longest total time
	MaxHeatWait = 60 * time.Minute // heat on while waiting for a person
	Lowest      = temp.C(0)        // of any temperature
	Highest     = temp.C(1300)     // of any temperature; type K ends at 1372 °C
	LowestCool  = temp.C(30)       // below it a cool could wait for ever in a warm shop
	MinBand     = temp.Delta(1)    // four steps of a 0.25 °C chip
	MaxBand     = temp.Delta(50)   // wider would say nothing
	MaxRate     = 10000.0 / 3600   // °C/s; no hand-built oven is faster
	MinRate     = 1.0 / 3600       // °C/s
	Patience    = time.Hour        // beyond the planned time, before a wait for the band alarms
	Spare       = 2 * time.Hour    // beyond the plan, before the whole run is too long
	maxWords    = 80               // characters of a title or of what a wait says
	maxNote     = 500              // characters of a note
)

// finding is a fault of the profile's meaning: a step (-1 the profile) and a key of the format.
type finding struct {
	step int
	key  string
	text string
}

// Check reports the first thing that makes p unfit to run as a *Problem without a line, nil
// if there is none. A profile from Parse, Builtin or Temper passes.
func (p *Profile) Check() error {
	f := check(p)
	if f == nil {
		return nil
	}
	key := f.key
	if f.step >= 0 {
		key = fmt.Sprintf("step %d, %s", f.step+1, f.key)
	}
	return &Problem{File: p.Name, Key: key, Text: f.text}
}

func check(p *Profile) *finding {
	if f := checkHead(p); f != nil {
		return f
	}
	for i := range p.Steps {
		if key, text := checkStep(p, i); text != "" {
			return &finding{step: i, key: key, text: text}
		}
	}
	return checkLengths(p)
}

func checkHead(p *Profile) *finding {
	whole := func(key, format string, args ...any) *finding {
		return &finding{step: -1, key: key, text: fmt.Sprintf(format, args...)}
	}
	switch {
	case p.Name == "" || len(p.Name) > 40 || p.Name[0] == '-' ||
		strings.Trim(p.Name, "abcdefghijklmnopqrstuvwxyz0123456789-") != "":
		return whole("name", "%q is no name for the command line: use a-z, 0-9 and -, "+
			"at most 40, as my-knife", p.Name)
	case !wordsFit(p.Title, maxWords) || p.Title == "":
		return whole("title", "a title is one line of 1 to %d characters", maxWords)
	case !wordsFit(p.Note, maxNote):
		return whole("note", "a note has at most %d characters, none of them a control character",
			maxNote)
	case p.Unit != temp.Celsius && p.Unit != temp.Fahrenheit:
		return whole("unit", "the unit is F or C")
	case !inside(p.Limit):
		return whole("limit", "%s is outside %s to %s", p.show(p.Limit), p.show(Lowest),
			p.show(Highest))
	case len(p.Steps) == 0:
		return whole("step", "a profile needs steps")
	case len(p.Steps) > MaxSteps:
		return whole("step", "%d steps with the repeats written out are too many: at most %d",
			len(p.Steps), MaxSteps)
	}
	return nil
}

// checkStep gives the key at fault and what is wrong, "" if nothing is.
func checkStep(p *Profile, i int) (key, text string) {
	s := &p.Steps[i]
	if s.Cycle < 0 || s.Cycle > MaxRepeats {
		return "repeat", fmt.Sprintf("cycle %d is outside 0 to %d", s.Cycle, MaxRepeats)
	}
	verb := s.Kind.String()
	if s.Kind != Wait && (s.Limit <= 0 || s.Limit > MaxTotal) {
		return "within", fmt.Sprintf("%s is outside 0 to %s", SpanText(s.Limit),
			SpanText(MaxTotal))
	}
	switch s.Kind {
	case Ramp:
		if s.Rate != 0 && !(s.Rate >= MinRate && s.Rate <= MaxRate) {
			return "rate", fmt.Sprintf("a rate stands between 1 and 10000 °C/h; this is %.4g °C/h",
				s.Rate*3600)
		}
		return checkTarget(p, s, verb)
	case Soak:
		if s.For <= 0 || s.For > MaxTotal {
			return verb, fmt.Sprintf("a soak lasts above 0 and at most %s", SpanText(MaxTotal))
		}
		return checkTarget(p, s, "at")
	case Cool:
		if !(s.To >= LowestCool && s.To <= Highest) {
			return verb, fmt.Sprintf("cool to %s or more: below it the wait could last for ever "+
				"in a warm shop", p.show(LowestCool))
		}
		return "", ""
	case Wait:
		return verb, checkWait(p, i)
	}
	return "step", "it is neither ramp, soak, cool nor wait"
}

func checkTarget(p *Profile, s *Step, key string) (string, string) {
	if !inside(s.To) {
		return key, fmt.Sprintf("%s is outside %s to %s", p.show(s.To), p.show(Lowest),
			p.show(Highest))
	}
	if text := bandText(s.Band, p.Unit); text != "" {
		return "band", text
	}
	// A billionth of a degree is left to the rounding between the two scales.
	if s.To.Add(s.Band) > p.Limit+1e-9 {
		return key, fmt.Sprintf("%s with its band is above the profile's limit of %s: "+
			"raise limit or lower this", p.show(s.To), p.show(p.Limit))
	}
	return "", ""
}

func checkWait(p *Profile, i int) string {
	s := &p.Steps[i]
	switch {
	case s.Say == "" || !wordsFit(s.Say, maxWords):
		return fmt.Sprintf("a wait says in 1 to %d characters what to do, as \"blade in\"",
			maxWords)
	case s.Load > LoadOut:
		return "the blade is in, out or as it was"
	case !s.Heat && s.Most != 0:
		return "most is for a wait with heat = true: without heat it may last as long as it likes"
	case s.Heat && (s.Most <= 0 || s.Most > MaxHeatWait):
		return fmt.Sprintf("heat may stay on for at most %s while waiting: lower most",
			SpanText(MaxHeatWait))
	case s.Heat && !hot(p.Steps[:i]):
		return "heat cannot stay on, because it is not on before this wait: put a ramp before it"
	}
	return ""
}

// hot reports whether the heat is on at the end of these steps.
func hot(before []Step) bool {
	if len(before) == 0 {
		return false
	}
	last := before[len(before)-1]
	return last.Kind == Ramp || last.Kind == Soak || last.Kind == Wait && last.Heat
}

func checkLengths(p *Profile) *finding {
	var plan time.Duration
	for _, d := range Lengths(p.Steps) {
		plan += d
	}
	plan = plan.Round(time.Second)
	switch {
	case plan > MaxTotal:
		return &finding{-1, "step", fmt.Sprintf("the plan takes %s, more than %s: shorten it",
			SpanText(plan.Round(time.Minute)), SpanText(MaxTotal))}
	case p.Longest <= 0 || p.Longest > MaxTotal:
		return &finding{-1, "longest", fmt.Sprintf("%s is outside 0 to %s", SpanText(p.Longest),
			SpanText(MaxTotal))}
	case p.Longest < plan:
		return &finding{-1, "longest", fmt.Sprintf("%s is shorter than the plan of %s: raise it "+
			"or leave it out", SpanText(p.Longest), SpanText(plan))}
	}
	return nil
}

// bandText says what is wrong with a band, "" if nothing is.
func bandText(d temp.Delta, u temp.Unit) string {
	if d >= MinBand-1e-9 && d <= MaxBand+1e-9 {
		return ""
	}
	return fmt.Sprintf("a band stands between %s and %s; this is %s", number(MinBand.In(u), u),
		number(MaxBand.In(u), u), number(d.In(u), u))
}

func inside(c temp.C) bool { return c >= Lowest && c <= Highest }

func wordsFit(s string, most int) bool { return printable(s) && len([]rune(s)) <= most }

func (p *Profile) show(c temp.C) string { return number(c.In(p.Unit), p.Unit) }

// number writes a figure without decimals if it is whole, with one if not.
func number(v float64, u temp.Unit) string {
	if math.Abs(v-math.Round(v)) < 0.05 {
		return fmt.Sprintf("%.0f %s", v, u)
	}
	return fmt.Sprintf("%.1f %s", v, u)
}
