package guard

// Finding is one thing that the guard can find.
type Finding uint8

// The findings.
const (
	HeatAtZero Finding = iota // it heats though the duty is 0
	NoHeat                    // what is sent does not come
	WeakHeat                  // about half of it comes
	LeadShort                 // the reading fell faster than any probe cools
	FellOut                   // the reading went to the room by a probe's own lag
	Frozen                    // the same word for ten minutes where it used to change
	BoardWarm                 // the cold junction is too warm
	Door                      // the reading falls as by an opened door
	Mains                     // the heater gives another power than a while ago
	Wander                    // the holding duty has changed as 5 °C of the reading would
	Count                     // how many there are
)

// fromHeat are those that need a reading.
const fromHeat Findings = 1<<Count - 1 - 1<<BoardWarm - 1<<Frozen

// Findings is a set of them.
type Findings uint32

// Has reports whether f is in the set.
func (s Findings) Has(f Finding) bool { return s&(1<<f) != 0 }

func (s *Findings) set(f Finding, is bool) {
	*s &^= 1 << f
	if is {
		*s |= 1 << f
	}
}

// Kind is what a finding asks for.
type Kind uint8

// The kinds.
const (
	Message Kind = iota // told, nothing more: nobody needs to act
	Alarm               // a person must act
	Doubt               // the heat goes away at once, and comes back if it passes
	Trip                // the heat goes away for good
)

// String gives the kind's word.
func (k Kind) String() string { return [...]string{"message", "alarm", "doubt", "trip"}[k&3] }

// Row is one line of what can go wrong: who sees it, and what is asked for.
type Row struct {
	Finding Finding // Count where another package finds it
	What    string
	By      string // package
	Within  string // latest time of detection on an oven whose model is known
	Kind    Kind
	Only    string // what only hardware can do about it; "" nothing
}

const (
	cutOff = "a limit of its own with its own probe and contactor, and the plug"
	pull   = "it does not switch off what is stuck on: " + cutOff + " do"
)

// Rows gives all that software can detect on an oven, in a new slice.
func Rows() []Row {
	const belief, engine, here = "probe/belief", "control", "control/guard"
	return []Row{
		{HeatAtZero, "switch stuck on", here, "150 s, or 10 °C above the setpoint", Trip, pull},
		{NoHeat, "no heat", here, "120 s", Trip, ""},
		{WeakHeat, "half the power", here, "120 s from rest at duty 0.5, else 20 min", Alarm, ""},
		{LeadShort, "lead shorted, hot", here, "10 s", Trip, "until then it heats: " + cutOff},
		{NoHeat, "lead shorted from cold", here, "120 s", Trip, "until then it heats: " + cutOff},
		{FellOut, "probe fallen out", here, "180 s", Trip, "until then it heats: " + cutOff},
		{Frozen, "word stands still in a soak", here, "10 min", Doubt, "a second probe"},
		{BoardWarm, "cold junction above 45 °C", here, "10 s", Alarm, ""},
		{Door, "door opened", here, "15 s", Message, "a door switch sees it at once"},
		{Mains, "mains 10 % off", here, "10 min in a soak", Message, "a meter"},
		{Wander, "slow wander by 5 °C", here, "30 min, behind 50 min of a soak", Message,
			"the mains or the probe: only a second probe tells which"},
		{Count, "open or shorted to a rail", belief, "1 s", Doubt, ""},
		{Count, "leads reversed", belief, "60 s of heating", Trip, ""},
		{Count, "word stands still while heating", belief, "60 s", Doubt, "a second probe"},
		{Count, "cold junction above 60 °C", belief, "10 s", Doubt, ""},
		{Count, "above the limit", engine, "1 s", Trip, pull},
		{Count, "board silent or hung", engine, "3 s", Doubt,
			"the board's dead man and watchdog take the heat away"},
		{Count, "board restarted", engine, "2 s", Trip, "a contactor that drops without power"},
		{Count, "computer slept, clock jumped", engine, "2 s", Doubt, "the board's dead man"},
	}
}

// Kind gives what a finding asks for.
func (f Finding) Kind() Kind {
	switch f {
	case HeatAtZero, NoHeat, LeadShort, FellOut:
		return Trip
	case Frozen:
		return Doubt
	case WeakHeat, BoardWarm:
		return Alarm
	}
	return Message
}

// String gives the finding in one line for a person.
func (f Finding) String() string {
	switch f {
	case HeatAtZero:
		return "the temperature rises though the duty is 0: pull the plug"
	case NoHeat:
		return "the heat that is sent does not show: no heat, or the probe is not in the oven"
	case WeakHeat:
		return "only about half of the heat that is sent shows"
	case LeadShort:
		return "the reading fell faster than a probe cools: is its lead shorted?"
	case FellOut:
		return "the reading went to the room: has the probe fallen out, or is the door open?"
	case Frozen:
		return "the reading has not changed for ten minutes"
	case BoardWarm:
		return "the board is too warm"
	case Door:
		return "the door seems open"
	case Mains:
		return "the heater gives another power than before: the mains, perhaps"
	case Wander:
		return "the duty that holds has changed as if the reading were 5 °C off: probe or mains?"
	}
	return "nothing"
}
