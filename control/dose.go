package control

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"strawline/probe/temp"
	"strawline/profiles"
	"strawline/profiles/steel"
)

// What a dose was reckoned by.
const (
	DoseMeasured = "the probe at the blade"
	DoseModelled = "the modelled blade"
	DoseAir      = "the oven's air" // neither is known: a blade lags behind it
)

// What a dose event says, as its word.
const (
	DoseSoak = "soak" // at the end of a soak
	DoseEnd  = "end"  // the verdict at the end of the run
)

// LikeFor is the length of the one soak that a dose is compared with, as tables print tempers.
const LikeFor = 2 * time.Hour

// Dose is the tempering that the blade has had, all cycles of the run as one, and what hardness
// that leaves. It is made of the samples alone, so that a run file gives it again.
type Dose struct {
	P        float64 `json:"p"` // Hollomon–Jaffe in thousands, C = 18, hours; 0 for none yet
	HottestC float64 `json:"hottest_c"`
	By       string  `json:"by"`                 // DoseMeasured, DoseModelled or DoseAir
	LikeC    float64 `json:"like_c,omitempty"`   // one soak of LikeFor at this is worth the same
	SoakC    float64 `json:"soak_c,omitempty"`   // temperature of the newest soak begun; 0 none
	SameS    float64 `json:"same_s,omitempty"`   // one soak of this length at SoakC likewise
	Steel    string  `json:"steel,omitempty"`    // as the person named it
	Like     string  `json:"like,omitempty"`     // the steel whose figures stand for it
	Known    bool    `json:"known,omitempty"`    // HRC and Band hold
	HRC      float64 `json:"hrc,omitempty"`      // of fully hardened steel, middle of the curve
	Band     float64 `json:"band_hrc,omitempty"` // half width
	Why      string  `json:"why,omitempty"`      // why there is no hardness
	Note     string  `json:"note,omitempty"`     // whose curve it is, where not the steel's own
	Caution  string  `json:"caution,omitempty"`  // what the hottest of it may do to toughness
	// Over is how long the last excursion above a band has lasted, and Cost what it takes off the
	// hardness: the curve's difference to the same path held at the setpoint meanwhile.
	OverS   float64 `json:"over_s,omitempty"`
	Cost    float64 `json:"cost_hrc,omitempty"`
	Bridged float64 `json:"bridged_s,omitempty"` // without readings, taken as straight
	Verdict string  `json:"verdict,omitempty"`   // at the end of the run
	// Measured is a hardness that a person measured and noted during the run, HRC; 0 for none.
	Measured float64 `json:"measured_hrc,omitempty"`
}

// Rules of an excursion and of gaps; our choice.
const (
	sameExcursion = 2 * time.Minute // out of the band again within this is still the same one
	doseEvery     = 10 * time.Second
	bridgeFrom    = 10 * time.Second // a longer hole between two temperatures is told
)

// dosing folds the samples of a run into its Dose.
type dosing struct {
	by     string
	probe  int // index of the channel at the blade
	loads  bool
	in     bool // by the air: the blade is in, or nobody said when it goes in
	has    bool
	last   temp.C
	at     time.Duration
	dose   steel.Dose
	steel  steel.Steel
	known  bool
	whyNot string
	quench float64

	ref, band temp.C // of the newest ramp or soak
	refHas    bool
	out       bool // above the band
	outAt     time.Duration
	over      time.Duration
	excursion bool       // there was one
	clear     steel.Dose // as if the last excursion had been held at the setpoint
	said      time.Duration
	bridged   time.Duration
}

// newDosing says what the dose of a run is reckoned by.
func newDosing(info *Info) dosing {
	d := dosing{by: DoseAir}
	for i := range info.Profile.Steps {
		d.loads = d.loads || info.Profile.Steps[i].Load == profiles.LoadIn
	}
	d.in = !d.loads
	b := info.Blade
	if b != nil && b.ThickMM > 0 && d.loads {
		d.by = DoseModelled
	}
	for i, role := range info.Shop.Channels {
		if role == RoleBlade {
			d.by, d.probe = DoseMeasured, i
		}
	}
	if b == nil || b.Steel == "" {
		d.whyNot = "no steel was named"
		return d
	}
	d.quench = b.QuenchedHRC
	name := b.Steel
	if b.Like != "" {
		name = b.Like
	}
	d.steel, d.known = steel.Find(name, nil)
	if b.Makeup != nil && (d.known || b.Like == "") { // its own certificate goes before the grade's
		d.known, d.steel.Name, d.steel.Base = true, b.Steel, b.Like
		d.steel.Makeup.Typical = *b.Makeup
	}
	if !d.known {
		d.whyNot = "no figures of " + b.Steel + " are here"
	}
	return d
}

// now gives what counts at a sample; false if the blade is out or nothing is known.
func (d *dosing) now(s *Snapshot, sm *Sample) (temp.C, bool) {
	switch d.by {
	case DoseMeasured:
		c := s.Channels[d.probe]
		return c.Temp, c.Good
	case DoseModelled:
		return s.Blade, sm.Blade != nil
	}
	return s.Temp, s.HasTemp && d.in
}

// sample takes the next sample into the dose.
func (d *dosing) sample(s *Snapshot, sm *Sample) {
	if s.Info.Test != nil {
		return
	}
	d.aim(s)
	t, ok := d.now(s, sm)
	if !ok {
		if d.by == DoseModelled || d.by == DoseAir && !d.in {
			d.has = false // it is out of the oven
		}
		return
	}
	if d.has {
		d.add(t, sm.T)
	}
	d.has, d.last, d.at = true, t, sm.T
	if sm.T-d.said >= doseEvery {
		d.tell(s)
	}
}

// aim follows the setpoint of the newest ramp or soak.
func (d *dosing) aim(s *Snapshot) {
	if s.Step >= len(s.Steps) {
		return
	}
	st := &s.Steps[s.Step]
	if st.Kind == profiles.Ramp || st.Kind == profiles.Soak {
		d.ref, d.band, d.refHas = st.To, temp.C(st.Band), true
	}
	if st.Kind == profiles.Soak {
		s.Dose.SoakC = float64(st.To)
	}
}

func (d *dosing) add(t temp.C, at time.Duration) {
	span := at - d.at
	if span > bridgeFrom {
		d.bridged += span
	}
	top := d.ref + d.band
	above := d.refHas && t > top
	if above && !d.out && !(d.excursion && at-d.outAt <= sameExcursion) {
		d.excursion, d.clear, d.over = true, d.dose, 0
	}
	d.dose = d.dose.Ramp(d.last, t, span)
	if above {
		d.over += span
		d.outAt = at
	}
	d.out = above
	if d.excursion {
		d.clear = d.clear.Ramp(d.held(d.last), d.held(t), span)
	}
}

// held is a temperature as it would have been without the excursion.
func (d *dosing) held(t temp.C) temp.C {
	if t > d.ref+d.band {
		return d.ref
	}
	return t
}

// tell writes what the dose is now into the Snapshot.
func (d *dosing) tell(s *Snapshot) {
	d.said = d.at
	o := &s.Dose
	*o = Dose{P: d.dose.P, HottestC: float64(d.dose.Hottest), By: d.by, SoakC: o.SoakC,
		Verdict: o.Verdict, Measured: o.Measured, Bridged: d.bridged.Seconds(), OverS: d.over.Seconds()}
	if b := s.Info.Blade; b != nil {
		o.Steel, o.Like = b.Steel, b.Like
	}
	if o.P == 0 {
		o.Why = "there is no temper yet"
		return
	}
	o.LikeC = float64(d.dose.Like(LikeFor))
	if h := d.dose.Hours(temp.C(o.SoakC)); o.SoakC > 0 && h < mostHours {
		o.SameS = h * 3600
	}
	if !d.known {
		o.Why = d.whyNot
		return
	}
	e, err := d.steel.After(d.dose, d.quench)
	if err != nil {
		o.Why = err.Error()
		return
	}
	o.Known, o.HRC, o.Band, o.Note = true, e.HRC, e.Band, e.Curve.Note
	if c := d.steel.Cautions(d.dose.Hottest); len(c) > 0 && d.dose.Hottest > brittleFrom {
		o.Caution = c[0]
	}
	if d.excursion {
		o.Cost = max(0, e.Curve.HRC(d.clear)-e.HRC)
	}
}

// brittleFrom is where steel.Cautions begins to speak of toughness, 450 °F.
const brittleFrom = temp.C(232.3)

// mostHours is the longest soak that a dose is compared with: none was longer in what was
// measured (steel.Longest), and some room.
const mostHours = 100

// Hardness says the hardness with no more digits than its band deserves, "61 HRC (59 to 63)",
// or why there is none.
func (o *Dose) Hardness() string {
	if !o.Known {
		return "no hardness: " + o.Why
	}
	return o.Short() + " (" + o.Ends() + ")"
}

// Short is the hardness without its band, "61 HRC"; "" if there is none.
func (o *Dose) Short() string {
	if !o.Known {
		return ""
	}
	hrc, _, _ := steel.Estimate{HRC: o.HRC, Band: o.Band}.Rounded()
	return figure(hrc) + " HRC"
}

// Ends is the band of the hardness, "59 to 63"; "" if there is none.
func (o *Dose) Ends() string {
	if !o.Known {
		return ""
	}
	_, low, high := steel.Estimate{HRC: o.HRC, Band: o.Band}.Rounded()
	return figure(low) + " to " + figure(high)
}

func figure(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// noTemper says why there is no temper to speak of; "" if there is.
func (o *Dose) noTemper(u temp.Unit) string {
	switch {
	case o.P == 0 || o.HottestC < float64(steel.Coldest):
		return "nothing was measured below " + steel.Coldest.Text(u, 0)
	case o.HottestC > float64(steel.Hottest):
		return "it was hotter than " + steel.Hottest.Text(u, 0) + ", above which nothing was measured"
	}
	return ""
}

// Equal says what one soak the dose is worth, "like 2 h 00 at 403 °F"; "" where it was colder or
// hotter than what was measured.
func (o *Dose) Equal(u temp.Unit) string {
	if o.noTemper(u) != "" {
		return ""
	}
	return "like " + clockSpan(LikeFor) + " at " + temp.C(o.LikeC).Text(u, 0)
}

// Same says how long one soak at the setpoint would be worth the same, "2 h 10 at 400 °F";
// "" where that says nothing.
func (o *Dose) Same(u temp.Unit) string {
	if o.SameS < 60 || o.Equal(u) == "" {
		return ""
	}
	return clockSpan(seconds(o.SameS)) + " at " + temp.C(o.SoakC).Text(u, 0)
}

// CostWords says what the last excursion cost, "the last excursion cost 0.4 HRC"; "" if there
// was none, or where no hardness is known. It is a difference along one curve, which the band's
// width does not touch, and so has its tenth.
func (o *Dose) CostWords() string {
	switch {
	case !o.Known || o.OverS == 0:
		return ""
	case o.Cost < 0.05:
		return "the last excursion cost less than 0.1 HRC"
	}
	return fmt.Sprintf("the last excursion cost %.1f HRC", o.Cost)
}

// clockSpan writes a span to the minute, "2 h 05" or "45 min".
func clockSpan(t time.Duration) string {
	m := int(math.Round(t.Minutes()))
	if m < 60 {
		return strconv.Itoa(m) + " min"
	}
	return fmt.Sprintf("%d h %02d", m/60, m%60)
}

// sentences is the verdict: what the blade had, and what hardness that leaves.
func (o *Dose) sentences(u temp.Unit) string {
	equal := o.Equal(u)
	if equal == "" {
		return "By " + o.By + " this was no temper: " + o.noTemper(u) +
			". No hardness can be said of it."
	}
	first := "By " + o.By + ", all heats as one, this was " + equal
	if same := o.Same(u); same != "" {
		first += ", or " + same
	}
	if c := o.CostWords(); c != "" {
		first += "; " + c
	}
	if o.Bridged >= 60 {
		first += "; " + clockSpan(seconds(o.Bridged)) + " without readings are taken as straight"
	}
	second := "No hardness can be said: " + o.Why
	if o.Known {
		second = o.Steel + ", if fully hardened, is then about " + o.Short() + ", " + o.Ends()
		if o.Like != "" {
			second += ", by the figures of " + o.Like
		}
		if o.By == DoseAir {
			second += ", and harder where the blade lagged behind the air"
		}
		if o.Caution != "" {
			second += "; " + o.Caution
		}
	}
	return first + ". " + second + "."
}

// line is what is said at the end of a soak.
func (o *Dose) line(u temp.Unit) string {
	text := o.Equal(u)
	if text == "" {
		return "no temper by " + o.By + ": " + o.noTemper(u)
	}
	text += ", by " + o.By + ": " + o.Hardness()
	if c := o.CostWords(); c != "" {
		text += "; " + c
	}
	return text
}

// NotedHardness reads a note of a measured hardness, "hardness 60.5HRC"; false for any other.
func NotedHardness(note string) (float64, bool) {
	rest, is := strings.CutPrefix(strings.ToLower(strings.TrimSpace(note)), "hardness")
	if !is {
		return 0, false
	}
	hrc, err := steel.ParseHRC(strings.ToUpper(strings.TrimSpace(rest)))
	return hrc, err == nil
}

// Told gives the Snapshot with the dose of the very last sample, which a screen gets every 10 s.
func (v *View) Told() Snapshot {
	v.dose.tell(&v.s)
	return v.Snapshot()
}

// sayDose puts the dose into the run file: the figures of the samples before this one.
func (e *Engine) sayDose(word string) {
	if e.cfg.Info.Test != nil {
		return
	}
	e.view.dose.tell(&e.view.s)
	o := e.view.s.Dose
	text := o.line(e.unit())
	if word == DoseEnd {
		text = o.sentences(e.unit())
	}
	o.P, o.Verdict = round(o.P, 1e5), ""
	for _, f := range []*float64{&o.HottestC, &o.LikeC, &o.SoakC, &o.HRC, &o.Cost} {
		*f = round(*f, 100)
	}
	for _, f := range []*float64{&o.SameS, &o.OverS, &o.Bridged} {
		*f = round(*f, 1)
	}
	e.emit(Event{Kind: EvDose, Word: word, Text: text, Dose: &o})
}

// doseEvent follows the events that a dose depends on.
func (v *View) doseEvent(e *Event) {
	d := &v.dose
	switch e.Kind {
	case EvStep:
		if s := &v.s; e.Step != nil && e.Word != "undo" && s.Step < len(s.Steps) {
			switch s.Steps[s.Step].Load { // of the step that is being left
			case profiles.LoadSame:
			case profiles.LoadIn:
				d.in = true
			default:
				d.in = !d.loads
			}
		}
	case EvNote:
		if hrc, is := NotedHardness(e.Text); is {
			v.s.Dose.Measured = hrc
		}
	case EvDose:
		d.tell(&v.s)
		if e.Word == DoseEnd {
			v.s.Dose.Verdict = e.Text
		}
	}
}
