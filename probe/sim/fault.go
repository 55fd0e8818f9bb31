package sim

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
)

// Kind names a fault that the simulated shop can have.
type Kind string

// The faults, with the length of each where none is given.
const (
	Open       Kind = "open"        // the thermocouple of channel 1 is open; 60 s
	SSRShort   Kind = "ssr-short"   // full power whatever the board commands; for ever
	HostSilent Kind = "host-silent" // the host's bytes do not arrive; 5 s
	Restart    Kind = "restart"     // the board's watchdog restarts it once; has no length
	Garbage    Kind = "garbage"     // one byte in four of the board's comes as any other; 3 s
	Unplug     Kind = "unplug"      // the cable is out and the board without power; 20 s
	DoorOpen   Kind = "door"        // the oven's door stands open; 20 s
	Reversed   Kind = "reversed"    // the leads of channel 1 are swapped; for ever
	Frozen     Kind = "frozen"      // the chip of channel 1 repeats its last word; for ever
	NoHeat     Kind = "no-heat"     // relay open or element broken: no power; for ever
	Weak       Kind = "weak"        // one of two elements broken: half the power; for ever
	Sag        Kind = "sag"         // the mains at 0.9 of their volts: 0.81 of the power; for ever
	Fallen     Kind = "fallen"      // the probe lies in the room and follows it by its lag; for ever
	LeadShort  Kind = "lead-short"  // its leads touch at the board: it reads the chip; for ever
	WarmBoard  Kind = "warm-board"  // the chips warm by 2 °C a minute to 65 °C; for ever

	ShortGround Kind = "short-ground" // the thermocouple of channel 1 touches ground; 60 s
	ShortSupply Kind = "short-supply" // or the supply; 60 s
	Mute        Kind = "mute"         // the board's bytes do not arrive; 5 s
	Hang        Kind = "hang"         // its program hangs until the watchdog; has no length
	WanderUp    Kind = "wander-up"    // it reads more by 0.5 °C a minute up to 5 °C; for ever
	WanderDown  Kind = "wander-down"  // or less; for ever
)

// Sizes of the slow wander, and the watchdog's time, which is that of the reference board.
const (
	wanderMost   = 5.0 // °C
	wanderMinute = 0.5 // °C
	watchdog     = time.Second
)

const forEver = time.Duration(math.MaxInt64)

var kinds = []Kind{Open, SSRShort, HostSilent, Restart, Garbage, Unplug, DoorOpen, Reversed, Frozen,
	NoHeat, Weak, Sag, Fallen, LeadShort, WarmBoard, ShortGround, ShortSupply, Mute, Hang, WanderUp,
	WanderDown}

func (k Kind) usual() time.Duration {
	switch k {
	case Open, ShortGround, ShortSupply:
		return time.Minute
	case SSRShort, Reversed, Frozen, NoHeat, Weak, Sag, Fallen, LeadShort, WarmBoard, WanderUp,
		WanderDown:
		return forEver
	case HostSilent, Mute:
		return 5 * time.Second
	case Garbage:
		return 3 * time.Second
	case Unplug, DoorOpen:
		return 20 * time.Second
	}
	return 0
}

// Fault is one fault on request, in simulated time. It begins and ends with a Grant.
type Fault struct {
	Kind Kind
	At   time.Duration // since New, 0 or more
	For  time.Duration // 0 is the kind's usual length
}

// ParseFault reads NAME@SPAN or NAME@SPAN+SPAN, such as "open@40m" or "open@40m+60s": when it
// begins and how long it lasts. The error names what is wrong.
func ParseFault(s string) (Fault, error) {
	name, rest, ok := strings.Cut(s, "@")
	if !ok {
		return Fault{}, fmt.Errorf("fault %q says no time: write it as open@40m", s)
	}
	f := Fault{Kind: Kind(name)}
	if !slices.Contains(kinds, f.Kind) {
		return Fault{}, fmt.Errorf("fault %q is not known: there are %s", name, kindList())
	}
	at, length, long := strings.Cut(rest, "+")
	var err error
	if f.At, err = time.ParseDuration(at); err != nil || f.At < 0 {
		return Fault{}, fmt.Errorf("fault %q: %q is no time since the start: write it as open@40m, or "+
			"open@40m+60s for so long", s, at)
	}
	f.For = f.Kind.usual()
	if !long {
		return f, nil
	}
	if f.Kind == Restart || f.Kind == Hang {
		return Fault{}, fmt.Errorf("fault %q: a %s has no length", s, f.Kind)
	}
	if f.For, err = time.ParseDuration(length); err != nil || f.For <= 0 {
		return Fault{}, fmt.Errorf("fault %q: %q is no length such as 60s", s, length)
	}
	return f, nil
}

func kindList() string {
	var names []string
	for _, k := range kinds {
		names = append(names, string(k))
	}
	return strings.Join(names, ", ")
}

// String gives the fault in the form that ParseFault reads.
func (f Fault) String() string {
	s := fmt.Sprintf("%s@%v", f.Kind, f.At)
	if length := f.length(); length != f.Kind.usual() {
		s += fmt.Sprintf("+%v", length)
	}
	return s
}

func (f Fault) length() time.Duration {
	if f.For > 0 {
		return f.For
	}
	return f.Kind.usual()
}

// on reports whether the fault stands in the Grant that begins at t.
func (f Fault) on(t time.Duration) bool {
	switch f.Kind {
	case Restart:
		return t >= f.At && t < f.At+Step
	case Hang:
		return t >= f.At && t < f.At+watchdog
	}
	return t >= f.At && t-f.At < f.length()
}
