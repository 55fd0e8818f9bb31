package alarm

import "time"

// The codes of the first table.
const (
	OverTemperature = "over-temperature"
	Tripped         = "tripped"
	BoardSilent     = "board-silent"
	NoReading       = "no-reading"
	OffPlan         = "off-plan"
	WaitTooLong     = "wait-too-long"
	RunOver         = "run-over"
	HeatAtZero      = "still-heats"
	LogFull         = "log-full"
	NoHeat          = "no-heat"
	ProbeOut        = "probe-out"
	WeakHeat        = "weak-heat"
	BoardWarm       = "board-warm"
)

// First gives the alarms of a run. It makes a new table at each call: keep one. The delays are
// our choice: half a minute off the plan is an opened door, a second without a reading is
// a few samples, and what comes and goes must have gone for some seconds to count as gone.
func First() Table { return append(append(dangers(), slips()...), signs()...) }

// dangers are those with the heat or the steel at stake.
func dangers() Table {
	return Table{{
		Code:        OverTemperature,
		Word:        "OVER LIMIT",
		Cause:       "a probe reads above the limit of this run",
		Consequence: "the temper is lost, and the oven may be heating with no one in command",
		Do:          "If it still rises, cut the power at the wall. Then look at relay and probe.",
		High:        true,
		Latching:    true,
		NeedsAck:    true,
	}, {
		Code:        Tripped,
		Word:        "TRIPPED",
		Cause:       "the heat was taken away for good",
		Consequence: "the oven cools and the run stands until you act",
		Do:          "Read why, put it right, then acknowledge, reset and say go on.",
		High:        true,
		Latching:    true,
		NeedsAck:    true,
	}, {
		Code:        BoardSilent,
		Word:        "BOARD SILENT",
		Cause:       "the board has stopped answering",
		Consequence: "no heat is given, and nobody here sees how hot the oven is",
		Do:          "Look at the cable and the board's light. If in doubt, cut the power at the wall.",
		High:        true,
		OffDelay:    3 * time.Second,
		NeedsAck:    true,
	}, {
		Code:        NoReading,
		Word:        "NO READING",
		Cause:       "the probe that steers the oven gives no good reading",
		Consequence: "no heat is given and the soak clock stands still",
		Do:          "Look at the probe, its plug and its leads.",
		High:        true,
		OnDelay:     time.Second,
		OffDelay:    3 * time.Second,
		NeedsAck:    true,
		DependsOn:   []string{BoardSilent},
	}}
}

// slips are the others, and the alarm of heat that nothing commanded.
func slips() Table {
	return Table{{
		Code:        OffPlan,
		Word:        "OFF PLAN",
		Cause:       "outside the band in a soak, or too far behind on a ramp",
		Consequence: "the soak clock stands still, and the steel may get more or less than was meant",
		Do:          "Look whether the door is shut, the elements glow and the probe sits in its place.",
		OnDelay:     30 * time.Second,
		OffDelay:    time.Minute, // a door makes it too cold and then too hot: that is one
		NeedsAck:    true,
		Hidable:     true,
		DependsOn:   []string{BoardSilent, NoReading},
	}, {
		Code:        WaitTooLong,
		Word:        "WAITED LONG",
		Cause:       "the oven waited for you with the heat on for as long as it may",
		Consequence: "the heat was taken away and the oven cools",
		Do:          "Come to the oven and answer the wait. It heats up again first.",
		NeedsAck:    true,
	}, {
		Code:        RunOver,
		Word:        "TIME IS UP",
		Cause:       "the run has reached its longest total time",
		Consequence: "the heat was taken away, with the profile perhaps not finished",
		Do:          "Look how much of the soak was done before you judge the steel.",
		NeedsAck:    true,
	}, {
		Code:        LogFull,
		Word:        "NOT WRITTEN",
		Cause:       "records of this run could not be written",
		Consequence: "only the newest hours are kept in memory, and a power cut loses them",
		Do:          "Make room on the disk. What is kept is written when there is room.",
		Realarm:     30 * time.Minute,
		NeedsAck:    true,
	}, {
		Code:        HeatAtZero,
		Word:        "STILL HEATS",
		Cause:       "the temperature rises though the duty is 0",
		Consequence: "the relay may be stuck on: nothing here can switch the oven off",
		Do:          "Cut the power at the wall now. Then look at the relay.",
		High:        true,
		OffDelay:    3 * time.Second,
		Latching:    true,
		NeedsAck:    true,
	}}
}

// signs are what the guard reads out of the oven's own heat. Those that take the heat away are no
// latches of their own: the trip that comes with them is. The guard knows nothing of them at a bad
// reading, and begins again after 3 s of none: for so long they stand.
func signs() Table {
	return Table{{
		Code:        NoHeat,
		Word:        "NO HEAT",
		Cause:       "the heat that is sent does not show in the reading",
		Consequence: "the heat was taken away: with a blind probe the oven would run away",
		Do:          "Look whether the probe is in the oven, then at relay, elements and fuse.",
		High:        true,
		OffDelay:    3 * time.Second,
		NeedsAck:    true,
	}, {
		Code:        ProbeOut,
		Word:        "PROBE OUT",
		Cause:       "the reading fell to the room as no closed oven does",
		Consequence: "the heat was taken away; until then the oven may have become far too hot",
		Do:          "Open no door at once: it may be hot. Look at the probe, its place and its leads.",
		High:        true,
		OffDelay:    3 * time.Second,
		NeedsAck:    true,
	}, {
		Code:        WeakHeat,
		Word:        "WEAK HEAT",
		Cause:       "only about half of the heat that is sent shows in the reading",
		Consequence: "it takes long to come up, or does not get there",
		Do:          "Look whether each element glows, and at the mains.",
		OffDelay:    time.Minute,
		NeedsAck:    true,
		Hidable:     true,
		DependsOn:   []string{BoardSilent, NoReading, NoHeat},
	}, {
		Code:        BoardWarm,
		Word:        "BOARD WARM",
		Cause:       "the board's own junction is above 45 °C",
		Consequence: "readings may be degrees off, and above 60 °C they are not believed",
		Do:          "Move the board away from the oven, or shade it.",
		OffDelay:    time.Minute,
		NeedsAck:    true,
		Hidable:     true,
		DependsOn:   []string{BoardSilent, NoReading},
	}}
}
