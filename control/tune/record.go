package tune

import (
	"fmt"
	"math"
	"slices"
)

// Sample is one instant of a record.
type Sample struct {
	T       float64 // s; each later than the one before
	Y       float64 // reading, °C
	Duty    float64 // 0 to 1, in force from this instant until the next sample
	Door    bool    // the door was known to be open
	Limited bool    // a limit or a trip kept the heater from this duty
	Bad     bool    // the reading is not to be believed
}

// Record is what was seen, in order of time.
type Record []Sample

// Reason is why a record carries no model.
type Reason uint8

// The reasons.
const (
	Invalid     Reason = iota + 1 // figures that are not finite, or times not in order
	TooFew                        // too few samples
	TooShort                      // it ends too soon, or begins too late
	NoTest                        // the duty does not do what this test needs
	TooSmall                      // the duty was moved too little, or the oven answered too little
	Noisy                         // the answer does not stand out of the noise
	Coarse                        // the answer does not stand out of the rounding of the readings
	Wanders                       // the oven was still moving by itself
	DoorOpened                    // a door was opened, or the reading fell as if one was
	Saturated                     // a limit cut the duty, so that the record says what was not
	NotPeriodic                   // the swings of a relay test do not repeat
	Unlike                        // no model of these forms answers as this oven did
)

// Refusal is the error of a record that carries no model. Text says in a sentence why.
type Refusal struct {
	Reason Reason
	Text   string
}

func (r *Refusal) Error() string { return r.Text }

func refuse(why Reason, format string, args ...any) *Refusal {
	return &Refusal{Reason: why, Text: fmt.Sprintf(format, args...)}
}

// minSamples is the least that a fit of five figures and its spread are asked of. Our choice.
const minSamples = 60

// Noise estimates the standard deviation of one reading, °C, and the step that readings are
// rounded to, °C, 0 if there is none. It is not misled by a reading that moves evenly.
func (r Record) Noise() (sigma, lsb float64) {
	if len(r) < 3 {
		return 0, 0
	}
	lsb = r.rounding()
	bends := make([]float64, 0, len(r)-2)
	for i := 2; i < len(r); i++ {
		bends = append(bends, math.Abs(r[i].Y-2*r[i-1].Y+r[i-2].Y))
	}
	slices.Sort(bends)
	// The rms of the bends, without what a door or a fault did: an independent reading noise
	// makes bends of √6 times its size. Rounded readings bend rarely, and not by whole steps where
	// the chip's straight line was undone: the twentieth part that bends most tells them.
	cut := max(6*bends[len(bends)/2], 2*bends[len(bends)*19/20], 3*lsb)
	sum, n := 0.0, 0
	for _, b := range bends {
		if b <= cut || cut == 0 {
			sum += b * b
			n++
		}
	}
	sigma = math.Sqrt(sum / float64(n) / 6)
	return max(sigma, lsb/math.Sqrt(12)), lsb
}

// rounding gives the step of the readings if at least nine moves in ten are whole steps.
func (r Record) rounding() float64 {
	step := math.Inf(1)
	for i := 1; i < len(r); i++ {
		if d := math.Abs(r[i].Y - r[i-1].Y); d > 1e-6 {
			step = min(step, d)
		}
	}
	whole, moves := 0, 0
	for i := 1; i < len(r); i++ {
		d := math.Abs(r[i].Y-r[i-1].Y) / step
		if d < 0.5 {
			continue
		}
		moves++
		if math.Abs(d-math.Round(d)) < 1e-3 {
			whole++
		}
	}
	if moves < 4 || whole*10 < moves*9 {
		return 0
	}
	return step
}

// check refuses what no test can use.
func (r Record) check() error {
	if len(r) < minSamples {
		return refuse(TooFew, "the record has %d samples; at least %d are needed",
			len(r), minSamples)
	}
	return r.figures()
}

// figures refuses what is not a record of good readings and of duties as they were.
func (r Record) figures() error {
	for i, s := range r {
		switch {
		case !finite(s.T) || !finite(s.Y) || !(s.Duty >= 0 && s.Duty <= 1):
			return refuse(Invalid, "sample %d has no usable figures", i+1)
		case i > 0 && !(s.T > r[i-1].T):
			return refuse(Invalid, "the time of sample %d is not after that of the one before", i+1)
		case s.Door:
			return refuse(DoorOpened, "the door was open %.0f s into the record", s.T-r[0].T)
		case s.Limited:
			return refuse(Saturated, "a limit cut the heater's duty %.0f s into the record",
				s.T-r[0].T)
		case s.Bad:
			return refuse(Invalid, "there was no good reading %.0f s into the record", s.T-r[0].T)
		}
	}
	return nil
}

// A door lets the reading fall faster than an oven without heat can: by doorFall within
// doorTime, and by more than the heater ever made it rise before. The reference study saw 4 °C/s
// with the door open, 0.24 without heat, 1 at full heat.
const (
	doorFall  = 5.0 // °C, or ten times the noise if that is more
	doorTime  = 5.0 // s
	doorRelay = 2.2 // a relay with equal steps takes away twice what it first gave
)

// door gives when the reading first fell as if a door was opened, by ratio times the rise before.
func (r Record) door(sigma, ratio float64) (at float64, found bool) {
	from, rise := 0, 0.0
	for i := range r {
		for r[i].T-r[from].T > doorTime {
			from++
		}
		// The mean of three on each side, so that one wild reading is not a door.
		if i-from < 5 {
			continue
		}
		before := (r[from].Y + r[from+1].Y + r[from+2].Y) / 3
		now := (r[i].Y + r[i-1].Y + r[i-2].Y) / 3
		if before-now > max(doorFall, 10*sigma, ratio*rise) {
			return r[from].T - r[0].T, true
		}
		rise = max(rise, now-before)
	}
	return 0, false
}

func (r Record) checkDoor(sigma, ratio float64) error {
	if at, found := r.door(sigma, ratio); found {
		return refuse(DoorOpened,
			"the reading fell as if the door was opened %.0f s into the record", at)
	}
	return nil
}

// sameDuty is how far duties may differ and count as one. Our choice: above the rounding to
// per mille, far below what a test moves.
const sameDuty = 0.004

// level is a stretch of one duty: the samples from first on, up to the next level's.
type level struct {
	first int
	duty  float64
}

// levels gives the stretches of constant duty.
func (r Record) levels() []level {
	var out []level
	for i, s := range r {
		if len(out) == 0 || math.Abs(s.Duty-out[len(out)-1].duty) > sameDuty {
			out = append(out, level{first: i, duty: s.Duty})
		}
	}
	return out
}

// line fits a straight line by least squares and gives its value in the middle of the times,
// its slope and the standard error of the slope for readings of deviation sigma.
func line(r Record, sigma float64) (mid, slope, se float64) {
	n := float64(len(r))
	tm := 0.0
	for _, s := range r {
		tm += s.T / n
		mid += s.Y / n
	}
	stt, sty := 0.0, 0.0
	for _, s := range r {
		stt += (s.T - tm) * (s.T - tm)
		sty += (s.T - tm) * (s.Y - mid)
	}
	if stt == 0 {
		return mid, 0, math.Inf(1)
	}
	return mid, sty / stt, sigma / math.Sqrt(stt)
}
