package keeper

import (
	"math"
	"math/rand/v2"
	"strings"
	"time"

	"strawline/control"
	"strawline/control/alarm"
	"strawline/control/guard"
	"strawline/probe"
	"strawline/probe/belief"
	"strawline/probe/sim"
	"strawline/probe/temp"
	"strawline/probe/thermocouple"
	"strawline/profiles"
)

// moment is when a fault begins.
type moment int

const (
	atStart  moment = iota // before the heat; counted from the first heat on
	heating                // on the way up, between a tenth and nine tenths of it
	soaking                // 5 to 45 minutes into a soak
	settled                // 65 to 90 minutes into it
	cooling                // up to 15 minutes into a cool step to cooledTo
	anywhere               // 1 to 40 minutes after the start
)

// cooledTo is where a cool step ends, °C.
const cooledTo = 40

// delay draws how long after the moment's own beginning the fault comes.
func (m moment) delay(r *rand.Rand) time.Duration {
	minutes := [...][2]float64{soaking: {5, 45}, settled: {65, 90}, cooling: {0, 15},
		anywhere: {1, 40}}[m]
	return time.Duration((minutes[0] + (minutes[1]-minutes[0])*r.Float64()) * float64(time.Minute))
}

// injection is one way in which a row of guard.Rows may come about.
type injection struct {
	row   string // What of the row
	name  string // how it came about
	kinds []sim.Kind
	when  moment
	by    time.Duration // the latest
	tells []string      // events of the run file that name it, each KIND TEXT or KIND CODE
	heat  bool          // it takes the heat away
	full  bool          // where the duty is not full for fullBy it is the next injection, by lessBy
	near  temp.Delta    // above 0: and before the true bead is so far above the setpoint
	// since says of a sample and of the board's true state that what is to be seen is there now;
	// nil where that is when the fault begins.
	since func(x *injected, s *control.Sample, truth sim.Truth) bool
	limit temp.Delta // of the run above the setpoint; 25 °C if 0
}

// Half the heater shows within fullBy of full duty, and within lessBy of less: the law heats with
// less than all towards a near temperature.
const (
	fullBy   = 120 * time.Second
	lessBy   = 20 * time.Minute
	fullDuty = 900 // per mille
)

func trips(fs ...guard.Finding) (ts []string) {
	for _, f := range fs {
		ts = append(ts, "trip "+f.String())
	}
	return ts
}

const (
	doubts   = "doubt "
	messages = "oven "
	alarms   = "alarm "
	restarts = "trip the board restarted"
)

// injections are the rows of guard.Rows but the last, which a clock of its own has: see
// TestSleepsAndJumpsInTime.
func injections() []injection {
	one := func(k sim.Kind) []sim.Kind { return []sim.Kind{k} }
	frozen := []string{doubts + belief.WhyFrozen, doubts + guard.Frozen.String()}
	noHeat := trips(guard.NoHeat)
	weak := []string{alarms + alarm.WeakHeat}
	// No heat and a probe that is out ask for the same look.
	out := append(trips(guard.FellOut, guard.LeadShort), noHeat...)
	list := []injection{
		{row: "switch stuck on", name: "in a soak", kinds: one(sim.SSRShort), when: soaking,
			by: 150 * time.Second, tells: trips(guard.HeatAtZero), heat: true, near: 10},
		{row: "switch stuck on", name: "in cooling", kinds: one(sim.SSRShort), when: cooling,
			by: 150 * time.Second, tells: trips(guard.HeatAtZero), heat: true},
		{row: "switch stuck on", name: "in the heat-up", kinds: one(sim.SSRShort), when: heating,
			by: 150 * time.Second, tells: append(trips(guard.HeatAtZero), "trip above the limit"),
			heat: true, near: 10, since: idleNow},
		{row: "no heat", name: "from cold", kinds: one(sim.NoHeat), when: atStart,
			by: 120 * time.Second, tells: noHeat, heat: true},
		{row: "no heat", name: "in a soak", kinds: one(sim.NoHeat), when: soaking,
			by: 120 * time.Second, tells: noHeat, heat: true},
		{row: "half the power", name: "from cold at full duty", kinds: one(sim.Weak), when: atStart,
			by: fullBy, tells: weak, full: true},
		{row: "half the power", name: "from cold at less", kinds: one(sim.Weak), by: lessBy,
			tells: weak},
		{row: "half the power", name: "in a soak", kinds: one(sim.Weak), when: soaking,
			by: lessBy, tells: weak},
		{row: "lead shorted, hot", name: "in a soak", kinds: one(sim.LeadShort), when: soaking,
			by: 10 * time.Second, tells: trips(guard.LeadShort, guard.FellOut), heat: true},
		{row: "lead shorted from cold", name: "from cold", kinds: one(sim.LeadShort), when: atStart,
			by: 120 * time.Second, tells: out, heat: true},
		{row: "probe fallen out", name: "in a soak", kinds: one(sim.Fallen), when: soaking,
			by: 180 * time.Second, tells: out, heat: true},
		{row: "word stands still in a soak", name: "in a soak", kinds: one(sim.Frozen), when: soaking,
			by: 10 * time.Minute, tells: frozen, heat: true},
		{row: "cold junction above 45 °C", name: "anywhere", kinds: one(sim.WarmBoard),
			when: anywhere, by: 10 * time.Second, tells: []string{alarms + alarm.BoardWarm},
			since: warmer(45)},
		{row: "door opened", name: "in a soak", kinds: one(sim.DoorOpen), when: soaking,
			by: 15 * time.Second, tells: []string{messages + guard.Door.String()}},
		{row: "mains 10 % off", name: "in a long soak", kinds: one(sim.Sag), when: settled,
			by: 10 * time.Minute, tells: []string{messages + guard.Mains.String()}},
		{row: "slow wander by 5 °C", name: "in a long soak", kinds: []sim.Kind{sim.WanderUp,
			sim.WanderDown}, when: settled, by: 30 * time.Minute,
			tells: []string{messages + guard.Wander.String()}},
	}
	return append(list, elsewhere()...)
}

// elsewhere are the rows that control/guard itself does not find.
func elsewhere() []injection {
	one := func(k sim.Kind) []sim.Kind { return []sim.Kind{k} }
	bits := []string{doubts + probe.FaultOpen.String(), doubts + probe.FaultShortGround.String(),
		doubts + probe.FaultShortSupply.String()}
	stuck := []string{"trip the heat that is sent does not show, and the chip has said the same word"}
	silent := []string{doubts + "link", doubts + "no reading", doubts + "no answer", restarts,
		"trip the board's latch: host silent", doubts + "the board does not"}
	return []injection{
		{row: "open or shorted to a rail", name: "anywhere", kinds: []sim.Kind{sim.Open,
			sim.ShortGround, sim.ShortSupply}, when: anywhere, by: time.Second, tells: bits, heat: true},
		{row: "leads reversed", name: "from cold", kinds: one(sim.Reversed), when: atStart,
			by: time.Minute, tells: []string{"trip the reading falls when heated"}, heat: true},
		{row: "word stands still while heating", name: "in the heat-up", kinds: one(sim.Frozen),
			when: heating, by: time.Minute, tells: append(stuck, doubts+belief.WhyFrozen), heat: true},
		{row: "cold junction above 60 °C", name: "anywhere", kinds: one(sim.WarmBoard),
			when: anywhere, by: 10 * time.Second, tells: []string{doubts + belief.WhyCold}, heat: true,
			since: warmer(60)},
		{row: "above the limit", name: "by a stuck switch", kinds: one(sim.SSRShort), when: soaking,
			by: time.Second, tells: []string{"trip above the limit", alarms + alarm.OverTemperature},
			heat: true, limit: 8, since: overLimit},
		{row: "board silent or hung", name: "anywhere", kinds: []sim.Kind{sim.Mute, sim.Hang,
			sim.Unplug, sim.HostSilent}, when: anywhere, by: 3 * time.Second, tells: silent, heat: true},
		{row: "board restarted", name: "anywhere", kinds: one(sim.Restart), when: anywhere,
			by: 2 * time.Second, tells: []string{restarts}, heat: true},
	}
}

// message says that nobody needs to act on it.
func (in *injection) message() bool { return strings.HasPrefix(in.tells[0], messages) }

// idleNow: no duty is commanded.
func idleNow(_ *injected, s *control.Sample, _ sim.Truth) bool { return s.Duty == 0 }

// warmer gives that the board's own junction is warmer in truth.
func warmer(than temp.C) func(*injected, *control.Sample, sim.Truth) bool {
	return func(_ *injected, _ *control.Sample, truth sim.Truth) bool { return truth.Cold > than }
}

// overLimit: the chip's word says more than the limit for the third time in a row, which is where
// noise alone is no longer taken for it. The seconds count from the first.
func overLimit(x *injected, s *control.Sample, _ sim.Truth) bool {
	if len(s.HasRaw) > 0 && s.HasRaw[0] {
		hot, _, fault := thermocouple.Decode("MAX31855K", s.Raw[0])
		if fault == probe.FaultNone && hot > x.limit {
			x.over++
		} else {
			x.over = 0
		}
	}
	x.earlier = 2 * Tick
	return x.over >= 3
}

// profile gives what is followed, and where it goes.
func (in *injection) profile(r *rand.Rand) (profiles.Profile, temp.C) {
	to := temp.C(math.Round(150 + 70*r.Float64()))
	limit := in.limit
	if limit == 0 {
		limit = 25
	}
	p := longSoak(to, 6*time.Hour)
	p.Limit = to.Add(limit)
	if in.when == cooling {
		p.Steps[1].For = 5 * time.Minute
		p.Steps = append(p.Steps, profiles.Step{Kind: profiles.Cool, To: cooledTo})
	}
	return p, to
}
