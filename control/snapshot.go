package control

import (
	"time"

	"strawline/probe"
	"strawline/probe/temp"
	"strawline/profiles"
	"strawline/profiles/steel"
)

// Phase is what a run is doing as a whole.
type Phase string

// The phases.
const (
	PhaseRunning Phase = "running" // following the profile
	PhaseTripped Phase = "tripped" // heat off, latched; a person must acknowledge, reset and go on
	PhaseEnded   Phase = "ended"   // heat off commanded; reminders until someone answers
	PhaseClosed  Phase = "closed"  // answered: the run file is complete
)

// Soak is what the soak clock is doing.
type Soak string

// The states of the soak clock.
const (
	SoakNone     Soak = ""         // not in a soak
	SoakBefore   Soak = "waiting"  // not yet in the band
	SoakCounting Soak = "counting" // inside the band
	SoakPaused   Soak = "paused"   // outside the band for 10 s or more
	SoakOver     Soak = "over"     // above the band: not credited
)

// Sample is one instant as the run file keeps it; fields that were not known are nil or empty.
type Sample struct {
	T      time.Duration // since the run began
	Raw    []uint32      // chip words, channel 1 first; valid where HasRaw is set
	HasRaw []bool
	Temp   []*float64 // believed (filtered) temperature of each channel, °C
	Set    *float64   // setpoint, °C
	Blade  *float64   // modelled blade, °C
	Duty   int        // commanded, per mille
	Soak   *float64   // credited soak of this step, s; only in a soak
}

// Channel is one probe as a screen shows it.
type Channel struct {
	Number int
	Role   string // "oven air"
	Temp   temp.C // filtered; only if Good
	Good   bool
	Fault  string // why not
}

// Alarm is one alarm that stands, or that returned and was not acknowledged.
type Alarm struct {
	Code   string        `json:"code"`
	Word   string        `json:"word"`   // short, for across the shop: "OVER LIMIT"
	Text   string        `json:"text"`   // cause in one line
	Do     string        `json:"do"`     // what to do
	State  string        `json:"state"`  // letter of the ISA-18.2 state
	High   bool          `json:"high"`   // priority
	Silent bool          `json:"silent"` // silenced (which is not acknowledged)
	Since  time.Duration `json:"-"`      // when it was raised
}

// Hidden is one alarm that does not stand among the others because it is hidden: it is counted
// and named apart.
type Hidden struct {
	Code   string
	Word   string        // "OFF PLAN"
	State  string        // letter of the ISA-18.2 state: G, H or I
	Reason string        // why a person hid it
	Until  time.Duration // it comes back by itself then; 0 if it does not
}

// Snapshot is everything a screen may show of one run at one instant. It is made only from
// what the run file also has, so that a replay shows the same.
type Snapshot struct {
	Info      *Info
	T         time.Duration // since the run began
	Wall      time.Time     // Info.Start + T
	Phase     Phase
	Why       string // why it tripped or ended
	Step      int    // index into Steps
	Steps     []profiles.Step
	StepT     time.Duration // when the step began
	Channels  []Channel
	HasTemp   bool
	Temp      temp.C // the control channel's
	HasSet    bool
	Set       temp.C
	HasBlade  bool
	Blade     temp.C // modelled
	BladeIn   bool   // a wait's answer said so, and none since that it is out
	Duty      int    // per mille, as commanded
	Doubt     string // heat is away for this reason; "" if not
	Soak      Soak
	SoakDone  time.Duration // credited
	SoakLeft  time.Duration
	SoakOver  time.Duration   // above the band, not credited
	Credits   []time.Duration // credited soak of each step so far, by index
	Stay      time.Duration   // "stay here" ends at this time; 0 if not asked
	Ready     time.Duration   // expected end of the last soak, on the run's clock; 0 unknown
	OvenOn    bool            // no heater: the person was told to heat, to OvenSet
	OvenSet   temp.C
	Next      string           // what the person must do next
	NextAt    time.Duration    // when, on the run's clock; 0 now or unknown
	Plan      []profiles.Point // ahead of now, At on the run's clock
	Alarms    []Alarm          // newest first
	Hidden    []Hidden         // alarms that are shelved or hidden otherwise, newest first
	Link      string           // the link's word
	Latches   []string
	Gaps      int           // gaps so far
	Gap       time.Duration // their total length
	Doubts    int
	Undo      string // what the undo key would take back; "" if nothing
	Started   bool
	Gains     Gains         // in force now
	Law       string        // what the law is doing: "landing"; "" if nothing
	ByHand    time.Duration // a person has the duty until then; 0 if not
	Test      string        // state of the tuning test; TestHeating and so on
	TestMoves int           // times that the duty of a tuning test went up or down
	TestText  string        // more of it: the plan, or why it came to nothing
	Unlike    string        // the oven does not answer as its model does; "" if it does
	Dose      Dose          // the tempering so far
	Refusals  int           // asks refused so far
	Refused   string        // the last one, and why
}

// Lead gives the index in Channels of the one that leads the run.
func (s *Snapshot) Lead() int {
	if s.Info == nil {
		return 0
	}
	return s.Info.Shop.LeadChannel() - 1
}

// Info is the head of a run: what does not change. It is the run file's first line.
type Info struct {
	Schema    int              `json:"schema"`
	Run       string           `json:"run"`
	Simulated bool             `json:"simulated"`
	Start     time.Time        `json:"start"`
	Unit      string           `json:"unit"` // "F" or "C": how the person reads; figures are in °C
	Shop      Shop             `json:"shop"`
	Profile   profiles.Profile `json:"profile"`
	Gains     Gains            `json:"gains"`
	Blade     *BladeInfo       `json:"blade,omitempty"`
	Model     *ModelInfo       `json:"model,omitempty"`
	Test      *TestInfo        `json:"test,omitempty"`
	Seed      *uint64          `json:"seed,omitempty"`
}

// TempUnit gives the unit in which the person reads.
func (in *Info) TempUnit() temp.Unit {
	if in != nil && in.Unit == "F" {
		return temp.Fahrenheit
	}
	return temp.Celsius
}

// Off says what stands of the heat when a run ends. It claims no more than was commanded, and
// nothing where the person holds the heat.
func (in *Info) Off() string {
	if in != nil && in.Shop.NoHeater {
		return "turn your oven off"
	}
	return "heat off commanded"
}

// Shop is the oven and board that a run uses.
type Shop struct {
	Oven   string  `json:"oven"`    // "simulated oven A"
	LimitC float64 `json:"limit_c"` // the oven's limit
	// Channels has the role of each channel, channel 1 first; "" is not used.
	Channels  []string `json:"channels"`
	Lead      int      `json:"lead,omitempty"`          // channel of the air of the oven; absent for 1
	Board     string   `json:"board"`                   // name the board gave, "" if none yet
	BoardLimC float64  `json:"board_limit_c,omitempty"` // its stored limit
	CeilingC  float64  `json:"ceiling_c,omitempty"`
	Protocol  int      `json:"protocol,omitempty"`
	// Corrections are what is added to each channel's readings, channel 1 first; absent for none.
	// The raw words in the samples are as they came.
	Corrections []Correction `json:"corrections,omitempty"`
	NoHeater    bool         `json:"no_heater,omitempty"` // the person holds the heat
	MainsHz     int          `json:"mains_hz,omitempty"`
	Guard       int          `json:"guard,omitempty"`     // channel that the board guards
	Contactor   *Contactor   `json:"contactor,omitempty"` // absent: a solid-state relay
	WindowS     float64      `json:"window_s,omitempty"`
	// Proofs of the board; absent if the run is simulated or without a heater.
	Proofs *Proofs `json:"proofs,omitempty"`
}

// RoleBlade is the role of a probe that touches the blade: a soak is judged by it.
const RoleBlade = "blade"

// LeadChannel gives the channel that leads the run, from 1.
func (s Shop) LeadChannel() int { return max(s.Lead, 1) }

// Correction is what is added to a channel's readings, with where it is from.
type Correction struct {
	OffsetC float64      `json:"offset_c,omitempty"`
	PointsC [][2]float64 `json:"points_c,omitempty"` // what it reads, and what that is
	From    string       `json:"from,omitempty"`     // "found 2026-11-02", "from shop.toml"
}

// value gives the arithmetic of it.
func (c Correction) value() probe.Correction {
	v := probe.Correction{Offset: temp.Delta(c.OffsetC)}
	for _, p := range c.PointsC {
		v.Points = append(v.Points, probe.Point{Reads: temp.C(p[0]), Is: temp.C(p[1])})
	}
	return v
}

// Gains are the loop's gains in the ISA standard form.
type Gains struct {
	Kp     float64 `json:"kp_per_c"` // duty (0 to 1) per °C
	TiS    float64 `json:"ti_s"`
	TdS    float64 `json:"td_s"`
	Weight float64 `json:"setpoint_weight"`
	From   string  `json:"from"` // "cautious default", "command line"
}

// BladeInfo is the blade as the person described it.
type BladeInfo struct {
	Text    string  `json:"text,omitempty"`
	Steel   string  `json:"steel,omitempty"`
	ThickMM float64 `json:"thick_mm,omitempty"`
	// Finish is FinishOxidised, which "" stands for, or FinishBright.
	Finish      string  `json:"finish,omitempty"`
	Fan         bool    `json:"fan,omitempty"`          // the oven moves its air
	ConvectionW float64 `json:"convection_w,omitempty"` // W/(m² K); 0 for steel.Still or Fanned
	From        string  `json:"from,omitempty"`         // of ConvectionW: "found 2026-11-02"
	Like        string  `json:"like,omitempty"`         // whose figures stand for Steel
	// Makeup is what a steel of the person's own is made of, percent by weight; nil for others.
	Makeup      *steel.Composition `json:"composition,omitempty"`
	QuenchedHRC float64            `json:"quenched_hrc,omitempty"` // after the quench; 0 unknown
}

// ModelInfo is how the oven answers its heater, as a test found it or the shop file says.
type ModelInfo struct {
	RiseC   float64 `json:"rise_c,omitempty"` // in the end, for the whole duty
	SlopeCS float64 `json:"slope_c_per_s"`    // that the whole duty begins with
	TimeS   float64 `json:"time_constant_s,omitempty"`
	SecondS float64 `json:"second_s,omitempty"` // the shorter time constant
	DeadS   float64 `json:"dead_time_s"`
	HoldPM  float64 `json:"hold_pm,omitempty"` // duty that held HoldC
	HoldC   float64 `json:"hold_c,omitempty"`
	StartS  float64 `json:"start_lag_s,omitempty"` // the lag that a start from cold showed

	// What the swings of a test showed near the setpoint, for the landing; all of them or none.
	SwingSlopeCS float64 `json:"swing_slope_c_per_s,omitempty"`
	SwingLagS    float64 `json:"swing_lag_s,omitempty"`
	SwingDeadS   float64 `json:"swing_dead_time_s,omitempty"`

	NoiseC float64 `json:"noise_c,omitempty"` // standard deviation of one reading
	From   string  `json:"from"`              // "found 2026-11-02", "from shop.toml"
}

// Contactor is an output that switches rarely: on or off around the setpoint.
type Contactor struct {
	DeadbandC float64 `json:"deadband_c"`
	MinOnS    float64 `json:"min_on_s"`
	MinOffS   float64 `json:"min_off_s"`
}

// TestInfo says that the run is a tuning test.
type TestInfo struct {
	Kind    string  `json:"kind"` // TestRelay or TestColdStart
	TargetC float64 `json:"target_c"`
	MostS   float64 `json:"most_s"` // longest time, after which it ends with the heat off
}
