package tune

import (
	"fmt"
	"math"
)

// Gains are those of the ideal (ISA standard) form K (1 + 1/(Ti s) + Td s) with weight B on the
// setpoint in the proportional part.
type Gains struct {
	K  float64 // duty (0 to 1) per °C
	Ti float64 // s; +Inf for none
	Td float64 // s; 0 for none
	B  float64 // setpoint weight, 0 to 1
}

// Series are gains of the series form Kc (1 + 1/(TauI s)) (1 + TauD s).
type Series struct{ Kc, TauI, TauD float64 }

// Ideal gives the same controller in the ideal form, setpoint weight 1.
func (s Series) Ideal() Gains {
	f := 1 + s.TauD/s.TauI
	return Gains{K: s.Kc * f, Ti: s.TauI * f, Td: s.TauD / f, B: 1}
}

// Series gives the same controller in the series form; false if there is none, which is where
// Ti is less than four times Td.
func (g Gains) Series() (Series, bool) {
	root := 1 - 4*g.Td/g.Ti
	if root < 0 {
		return Series{}, false
	}
	f := (1 + math.Sqrt(root)) / 2
	return Series{Kc: g.K * f, TauI: g.Ti * f, TauD: g.Td / f}, true
}

// SIMC gives Skogestad's gains for a closed-loop time constant tauC (s, above -L): PI of a
// model with one time constant or none, PID of one with two. Dead time and tauC must together
// be above 0. Read in the author's readme, J. Process Control 13 (2003) 291; the integrating
// case from memory.
func SIMC(m Model, tauC float64) Series {
	lam := tauC + m.L
	if m.Kind == Integrating {
		return Series{Kc: 1 / (m.Kv * lam), TauI: 4 * lam}
	}
	return Series{Kc: m.T / (m.K * lam), TauI: min(m.T, 4*lam), TauD: m.T2}
}

// ImprovedPI gives the improved SIMC PI: the time constant grows by a third of the dead time.
// Grimholt and Skogestad, 2012, abstract read. A model with two time constants is reduced first.
func ImprovedPI(m Model, tauC float64) Series {
	m = m.Reduced()
	if m.Kind == First {
		t := m.T + m.L/3
		return Series{Kc: t / (m.K * (tauC + m.L)), TauI: min(t, 4*(tauC+m.L))}
	}
	return SIMC(m, tauC)
}

// ImprovedPID gives the improved SIMC PID: a derivative of a third of the dead time. Grimholt
// and Skogestad, J. Process Control 70 (2018) 36, abstract read; tauC of half the dead time or
// more, from memory. A model with two time constants is reduced first.
func ImprovedPID(m Model, tauC float64) Series {
	m = m.Reduced()
	s := SIMC(m, tauC)
	s.TauD = m.L / 3
	return s
}

// AMIGO gives the gains of Åström and Hägglund, J. Process Control 14 (2004) 635, read in two
// codes that cite it. L is the dead time that the steepest tangent shows.
func AMIGO(k, t, l float64) (pi, pid Gains) {
	b := 0.0
	if l/(l+t) > 0.5 {
		b = 1
	}
	pi = Gains{
		K:  (0.15 + (0.35-l*t/((l+t)*(l+t)))*t/l) / k,
		Ti: 0.35*l + 13*l*t*t/(t*t+12*l*t+7*l*l),
		B:  b,
	}
	pid = Gains{
		K:  (0.2 + 0.45*t/l) / k,
		Ti: l * (0.4*l + 0.8*t) / (l + 0.1*t),
		Td: 0.5 * l * t / (0.3*l + t),
		B:  b,
	}
	return pi, pid
}

// AMIGOIntegrating gives the same for a slope kv (°C/s for the whole duty); from memory.
func AMIGOIntegrating(kv, l float64) (pi, pid Gains) {
	return Gains{K: 0.35 / (kv * l), Ti: 13.4 * l},
		Gains{K: 0.45 / (kv * l), Ti: 8 * l, Td: 0.5 * l}
}

// ZNFrequency gives the gains of Ziegler and Nichols (1942) from the ultimate gain and period;
// Bequette, Process Control (2003), table 6-1, read.
func ZNFrequency(ku, pu float64) (p, pi, pid Gains) {
	return Gains{K: 0.5 * ku, Ti: math.Inf(1), B: 1},
		Gains{K: 0.45 * ku, Ti: pu / 1.2, B: 1},
		Gains{K: 0.6 * ku, Ti: pu / 2, Td: pu / 8, B: 1}
}

// ZNStep gives the gains of Ziegler and Nichols (1942) from the steepest tangent, which leaves
// the start after l and began a below it (°C for the whole duty); Bequette table 6-3, read, with
// the 3 l of other texts in place of its 3.3 l.
func ZNStep(a, l float64) (pi, pid Gains) {
	return Gains{K: 0.9 / a, Ti: 3 * l, B: 1}, Gains{K: 1.2 / a, Ti: 2 * l, Td: l / 2, B: 1}
}

// TyreusLuyben gives calmer gains from the ultimate gain and period; Bequette table 6-2, read;
// IECR 31 (1992) 2625.
func TyreusLuyben(ku, pu float64) (pi, pid Gains) {
	return Gains{K: ku / 3.2, Ti: 2.2 * pu, B: 1},
		Gains{K: ku / 2.2, Ti: 2.2 * pu, Td: pu / 6.3, B: 1}
}

// CohenCoon gives the gains of Cohen and Coon, Trans. ASME 75 (1953) 827; formulas read in three
// codes. It takes the slope k/t and the ratio x = l/t, which is 0 of an integrating model.
func CohenCoon(slope, x, l float64) (p, pi, pid Gains) {
	base := 1 / (slope * l)
	return Gains{K: base * (1 + x/3), Ti: math.Inf(1), B: 1},
		Gains{K: base * (0.9 + x/12), Ti: l * (30 + 3*x) / (9 + 20*x), B: 1},
		Gains{
			K:  base * (4.0/3 + x/4),
			Ti: l * (32 + 6*x) / (13 + 8*x),
			Td: 4 * l / (11 + 2*x),
			B:  1,
		}
}

// MinGain is the least gain (duty per °C) that holds a disturbance of the size of u0 (in duty)
// to a deviation of yMax, °C: Skogestad, IECR 45 (2006) 7817, read.
func MinGain(u0, yMax float64) float64 { return math.Abs(u0) / yMax }

// Rule is one of the known tuning rules with its usual choice of speed.
type Rule uint8

// The rules. The last four are for comparison only: they carry a Warning.
const (
	RuleSIMCPI Rule = iota + 1
	RuleSIMCPID
	RuleImprovedPI
	RuleImprovedPID
	RuleAMIGOPI
	RuleAMIGOPID
	RuleTyreusLuybenPI
	RuleTyreusLuybenPID
	RuleZNFrequencyPI
	RuleZNFrequencyPID
	RuleZNStepPI
	RuleZNStepPID
	RuleCohenCoonPI
	RuleCohenCoonPID
)

// Rules gives all of them, in the order of a table.
func Rules() []Rule {
	all := make([]Rule, 0, RuleCohenCoonPID)
	for r := RuleSIMCPI; r <= RuleCohenCoonPID; r++ {
		all = append(all, r)
	}
	return all
}

// String gives the rule's name.
func (r Rule) String() string {
	names := [...]string{
		"none", "SIMC PI", "SIMC PID", "improved SIMC PI", "improved SIMC PID", "AMIGO PI",
		"AMIGO PID", "Tyreus–Luyben PI", "Tyreus–Luyben PID", "Ziegler–Nichols frequency PI",
		"Ziegler–Nichols frequency PID", "Ziegler–Nichols step PI", "Ziegler–Nichols step PID",
		"Cohen–Coon PI", "Cohen–Coon PID",
	}
	if int(r) < len(names) {
		return names[r]
	}
	return names[0]
}

// Warning says what speaks against a rule for an oven; empty if nothing does.
func (r Rule) Warning() string {
	if r >= RuleZNFrequencyPI && r <= RuleCohenCoonPID {
		return "for comparison only: on an oven it overshoots and stands close to swinging"
	}
	return ""
}

// Gains gives the rule's gains for a model. It is an error if the figures are no model, if the
// model has no dead time, or if the rule needs what the model does not have.
func (r Rule) Gains(m Model) (Gains, error) {
	if err := m.Check(); err != nil {
		return Gains{}, err
	}
	first := m.Reduced()
	if !(first.L > 0) {
		return Gains{}, fmt.Errorf("tune: %s needs a dead time above zero", r)
	}
	switch r {
	case RuleSIMCPI:
		return SIMC(first, first.L).Ideal(), nil
	case RuleSIMCPID:
		if m.Kind != Second {
			return Gains{}, fmt.Errorf("tune: %s needs a model with two time constants", r)
		}
		if !(m.L > 0) {
			return Gains{}, fmt.Errorf("tune: %s needs a dead time above zero", r)
		}
		return SIMC(m, m.L).Ideal(), nil
	case RuleImprovedPI:
		return ImprovedPI(m, first.L).Ideal(), nil
	case RuleImprovedPID:
		return ImprovedPID(m, first.L/2).Ideal(), nil
	}
	return r.classic(m)
}

// classic is Gains for the rules that come from a tangent or from the ultimate gain.
func (r Rule) classic(m Model) (Gains, error) {
	var pi, pid Gains
	isPID := false
	switch r {
	case RuleAMIGOPI, RuleAMIGOPID:
		isPID = r == RuleAMIGOPID
		if m.Kind == Integrating {
			pi, pid = AMIGOIntegrating(m.Kv, m.L)
		} else {
			t := m.Tangent()
			pi, pid = AMIGO(t.K, t.T, t.L)
		}
	case RuleTyreusLuybenPI, RuleTyreusLuybenPID, RuleZNFrequencyPI, RuleZNFrequencyPID:
		ku, pu, ok := m.Process().Ultimate()
		if !ok {
			return Gains{}, fmt.Errorf("tune: %s needs an ultimate gain; the model has none", r)
		}
		isPID = r == RuleTyreusLuybenPID || r == RuleZNFrequencyPID
		if r <= RuleTyreusLuybenPID {
			pi, pid = TyreusLuyben(ku, pu)
		} else {
			_, pi, pid = ZNFrequency(ku, pu)
		}
	case RuleZNStepPI, RuleZNStepPID:
		isPID = r == RuleZNStepPID
		pi, pid = ZNStep(tangentDrop(m))
	case RuleCohenCoonPI, RuleCohenCoonPID:
		isPID = r == RuleCohenCoonPID
		t := m.Tangent()
		x := 0.0
		if m.Kind != Integrating {
			x = t.L / t.T
		}
		_, pi, pid = CohenCoon(t.Slope(), x, t.L)
	default:
		return Gains{}, fmt.Errorf("tune: there is no rule %d", r)
	}
	if isPID {
		return pid, nil
	}
	return pi, nil
}

// tangentDrop gives a and l of ZNStep. A model with one lag is steepest where it starts, at its
// own slope; of two lags the tangent's slope is what leads from its dead time to the curve.
func tangentDrop(m Model) (a, l float64) {
	if m.Kind != Second {
		return m.Slope() * m.L, m.L
	}
	l = m.Tangent().L
	steep := m.T
	if m.T-m.T2 >= 1e-6*m.T {
		steep = math.Log(m.T/m.T2) * m.T * m.T2 / (m.T - m.T2)
	}
	at := m.L + steep
	return m.rise(at) / (at - l) * l, l
}
