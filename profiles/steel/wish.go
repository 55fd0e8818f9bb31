package steel

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"strawline/probe/temp"
	"strawline/profiles"
)

// Uses are what a blade can be for.
func Uses() []string { return []string{"kitchen", "general", "chopper", "spring"} }

// goal is the hardness in HRC that the trade names for a use, and the temperature of its
// practice. Both are what makers say; chopper and spring are from memory, and the lower end for
// a large knife is by judgement.
type goal struct {
	low, high float64
	practice  float64 // °F; 0 if there is none
}

func goalOf(use string, thickMM float64) (goal, bool) {
	switch use {
	case "kitchen":
		return goal{58, 61, 385}, true
	case "general":
		if thickMM > largeMM {
			return goal{58, 60, 425}, true
		}
		return goal{59, 60, 400}, true
	case "chopper":
		return goal{56, 58, 450}, true
	case "spring":
		return goal{50, 56, 0}, true
	}
	return goal{}, false
}

// largeMM is from where a knife counts as a large one, by judgement; thickMost is where a sheet's
// two hours end.
const (
	largeMM   = 4.5
	thickMost = 25.0
)

// The temper that is advised: two of two hours, as practice and most sheets have it.
const (
	wishSpan  = 2 * time.Hour
	wishTimes = 2
)

// Wish is what a person wants of a blade.
type Wish struct {
	Steel    Steel
	ThickMM  float64
	Use      string  // one of Uses
	Want     float64 // HRC; 0 leaves it to the use
	Quenched float64 // HRC measured after the quench; 0 if not
}

// Advice is a temper with the reason for each number.
type Advice struct {
	At       temp.C
	Estimate Estimate
	Reasons  []string
	Cautions []string
	Instead  string // another way where the wish cannot be had well; may be empty
	TOML     string // the profile, with reasons and cautions as comments
	Profile  *profiles.Profile
}

// Advise finds the temper for a wish. An error says why it cannot be had, and what can.
func (w Wish) Advise() (Advice, error) {
	var a Advice
	if says := w.Steel.Unfit(); says != "" {
		return a, fmt.Errorf("%s", strings.TrimSuffix(says, "."))
	}
	g, is := goalOf(w.Use, w.ThickMM)
	if !is {
		return a, fmt.Errorf("no use %q: there is %s", w.Use, strings.Join(Uses(), ", "))
	}
	if !(w.ThickMM > 0 && w.ThickMM <= 100) {
		return a, fmt.Errorf("%g mm is outside 0 to 100", w.ThickMM)
	}
	if err := a.choose(w, g); err != nil {
		return a, err
	}
	a.explain(w)
	return a, a.write(w)
}

// choose sets the temperature, its reason and its hardness.
func (a *Advice) choose(w Wish, g goal) error {
	goalWords := fmt.Sprintf("%g to %g HRC are what makers name for this use", g.low, g.high)
	want := w.Want
	if want == 0 {
		want = (g.low + g.high) / 2
	}
	switch {
	case w.Want == 0 && g.practice > 0:
		a.At = temp.F(g.practice)
		a.Reasons = append(a.Reasons, fmt.Sprintf("%.0f °F is common practice for this use",
			g.practice), goalWords)
	default:
		at, _, err := w.Steel.WantNear(want, wishSpan, wishTimes, w.Quenched)
		if err != nil {
			return fmt.Errorf("%w; %s", err, w.others(want))
		}
		a.At = at
		a.Reasons = append(a.Reasons, fmt.Sprintf("%.0f °F is where %s has %g HRC",
			a.At.F(), w.Steel.Name, want))
		if w.Want == 0 {
			a.Reasons = append(a.Reasons, goalWords)
		}
	}
	e, err := w.Steel.Tempered(a.At, wishSpan, wishTimes, w.Quenched)
	if err != nil {
		return fmt.Errorf("%w; %s", err, w.others(want))
	}
	a.Estimate = e
	a.Cautions = w.Steel.Cautions(a.At)
	edge := a.At > temp.F(445) // where tempering begins to make steel brittle
	hrc, low, high := e.Rounded()
	// A middle within the narrowest band of what makers name agrees with them.
	const agrees = 1.4
	off := w.Want == 0 && (e.HRC < g.low-agrees || e.HRC > g.high+agrees)
	if off {
		a.Cautions = append(a.Cautions, fmt.Sprintf("%s's own figures give %g HRC (%g to %g) there, "+
			"not %g to %g", w.Steel.Name, hrc, low, high, g.low, g.high))
	}
	if edge || off {
		a.Instead = w.others(want)
	}
	return nil
}

// others names the steels that have a hardness, within 1 HRC, after a temper from 350 to 450 °F
// and, for this one, what it has there.
func (w Wish) others(want float64) string {
	var names []string
	for _, s := range List() {
		hard, err1 := s.Tempered(temp.F(350), wishSpan, wishTimes, 0)
		soft, err2 := s.Tempered(temp.F(450), wishSpan, wishTimes, 0)
		if s.Name == w.Steel.grade() || s.Name == "4140" || err1 != nil || err2 != nil ||
			want > hard.HRC+1 || want < soft.HRC-1 {
			continue
		}
		at, _, err := s.WantNear(min(max(want, soft.HRC), hard.HRC), wishSpan, wishTimes, 0)
		if err == nil {
			names = append(names, fmt.Sprintf("%s at %.0f °F", s.Name, at.F()))
		}
	}
	hard, err1 := w.Steel.Tempered(temp.F(350), wishSpan, wishTimes, w.Quenched)
	soft, err2 := w.Steel.Tempered(temp.F(450), wishSpan, wishTimes, w.Quenched)
	var parts []string
	if err1 == nil && err2 == nil {
		parts = append(parts, fmt.Sprintf("from 350 to 450 °F %s has %.0f down to %.0f HRC",
			w.Steel.Name, hard.HRC, soft.HRC))
	}
	if len(names) > 0 {
		parts = append(parts, fmt.Sprintf("%g HRC are had with %s", want, strings.Join(names, ", ")))
	} else {
		parts = append(parts, fmt.Sprintf("none of the steels here has %g HRC from 350 to 450 °F",
			want))
	}
	return strings.Join(parts, "; ")
}

// explain gives the reasons for the other numbers.
func (a *Advice) explain(w Wish) {
	hrc, low, high := a.Estimate.Rounded()
	a.Reasons = append(a.Reasons,
		fmt.Sprintf("two tempers of 2 h leave %g HRC (%g to %g): %s", hrc, low, high,
			a.Estimate.Curve.Of),
		"the second temper is for the martensite that the first one's cooling makes of austenite "+
			"that had stayed; it counts in the dose like one long temper")
	if a.Estimate.Curve.Note != "" {
		a.Cautions = append(a.Cautions, a.Estimate.Curve.Note)
	}
	a.Cautions = append(a.Cautions, "it holds for a blade that hardened fully: a file should skate")
	band := a.At.Add(-temp.DeltaF(10))
	dark, is1 := Blade(w.ThickMM, Oxidised).Until(20, band, Oven(a.At, Still))
	bright, is2 := Blade(w.ThickMM, Bright).Until(20, band, Oven(a.At, Stillest))
	if is1 && is2 {
		const five = 5 * time.Minute
		a.Reasons = append(a.Reasons, fmt.Sprintf("the blade of %.1f mm (modelled) comes into the "+
			"band about %.0f minutes after it goes in if it is dark, %.0f if bright: the soak counts "+
			"from there if the run knows the thickness", w.ThickMM, dark.Round(five).Minutes(),
			bright.Round(five).Minutes()))
	}
	if w.ThickMM > thickMost {
		a.Cautions = append(a.Cautions, "sheets give 1 to 2 h an inch: this is thicker than an inch, "+
			"so the soak should be longer")
	}
	a.Reasons = append(a.Reasons, straighten(w.Steel))
}

// straighten compares the practice with the steel's own start of martensite: 35 °C apart, the
// formula's 20 and 15 for "about", is where we call them different.
func straighten(s Steel) string {
	const practice = "straightening out of the oil is possible down to about 400 °F, as makers say"
	c := s.Makeup.Typical
	if c.C <= 0 {
		return practice
	}
	if low, high, _, _ := s.MsRange(); s.grade() == "52100" { // the soak decides, not the formula
		return fmt.Sprintf("%s; martensite starts between %s and %s, as much carbon as dissolved",
			practice, About(low), About(high))
	}
	ms := c.Ms()
	says := fmt.Sprintf("%s; martensite starts at about %.0f °F (± 35 °F)", practice,
		math.Round(ms.F()/10)*10)
	if apart := float64(ms - temp.F(400)); math.Abs(apart) > 35 {
		return says + fmt.Sprintf(", so %s differs: go by that and stop at the first stiffness",
			s.Name)
	}
	return says + ", which agrees"
}

// nameOf makes the profile's name of the use and the steel.
func (w Wish) nameOf() string {
	clean := strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' {
			return r
		}
		return '-'
	}, strings.ToLower(w.Use+"-"+w.Steel.Name))
	return clean[:min(len(clean), 40)]
}

// write makes the profile as TOML, and reads it back.
func (a *Advice) write(w Wish) error {
	name := w.nameOf()
	if slices.Contains(profiles.Names(), name) {
		name += "-mine"
	}
	hrc, low, high := a.Estimate.Rounded()
	var b strings.Builder
	comment := func(what string, lines []string) {
		for _, l := range lines {
			fmt.Fprintf(&b, "# %s: %s\n", what, l)
		}
	}
	comment("why", a.Reasons)
	comment("caution", a.Cautions)
	if a.Instead != "" {
		comment("instead", []string{a.Instead})
	}
	fmt.Fprintf(&b, "name = %q\ntitle = %q\n", name,
		fmt.Sprintf("Temper of %s, %.1f mm, use: %s", w.Steel.Name, w.ThickMM, w.Use))
	fmt.Fprintf(&b, "note = %q\n", fmt.Sprintf("For %g HRC (%g to %g), by %s.", hrc, low, high,
		a.Estimate.Curve.Of))
	fmt.Fprintf(&b, "unit = \"F\"\nlimit = \"%.0fF\"\nband = \"10F\"\n\n", a.At.F()+45)
	fmt.Fprintf(&b, "[[step]]\nrepeat = %d\n[[step.do]]\nramp = \"%.0fF\"\n", wishTimes, a.At.F())
	b.WriteString("[[step.do]]\nwait = \"blade in\"\nheat = true\nblade = \"in\"\n" +
		"[[step.do]]\nsoak = \"2h\"\n" +
		"[[step.do]]\nwait = \"blade out, cooled to the hand\"\nblade = \"out\"\n")
	a.TOML = b.String()
	p, err := profiles.Parse(name, []byte(a.TOML))
	a.Profile = p
	return err
}
