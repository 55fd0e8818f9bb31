package pid

import (
	"errors"
	"math"
)

// Why Step gave no output.
var (
	// ErrConfig says that a Config makes no controller; the error that Check gives says why.
	ErrConfig = errors.New("pid: the tuning makes no controller")
	// ErrInput says that a figure of the sample is not finite or so large that the output is
	// not, or that its interval is not above zero.
	ErrInput = errors.New("pid: the sample has no usable figures")
	// ErrState says that the State has a figure that is not finite.
	ErrState = errors.New("pid: the state has a figure that is not one")
)

type configError string

func (e configError) Error() string { return ErrConfig.Error() + ": " + string(e) }

func (e configError) Is(target error) bool { return target == ErrConfig }

// What gains a person may give. The ranges are wide for any oven that a person built, and are
// there for slips of the decimal point; all are our own.
const (
	MostK     = 10.0       // duty per °C: full duty for a tenth of a degree
	LeastTime = 0.01       // s, of Ti
	MostTime  = 100 * 3600 // s, of Ti and Td
)

// Plausible is Check, and that gain and times are inside the ranges of what a person may give.
func (c Config) Plausible() error {
	switch {
	case c.K > MostK:
		return configError("the gain is full duty for less than a tenth of a degree")
	case c.Ti < LeastTime || c.Ti > MostTime:
		return configError("Ti must lie between 0.01 s and 100 h")
	case c.Td > MostTime:
		return configError("Td must be at most 100 h")
	}
	return c.Check()
}

// Check gives nil if the Config makes a controller, or else an ErrConfig that says what is
// wrong. The zero Config is wrong.
func (c Config) Check() error {
	switch {
	case !positive(c.K):
		return configError("the gain must be above zero")
	case !positive(c.Ti):
		return configError("Ti must be above zero")
	case !(c.Td >= 0) || !finite(c.Td):
		return configError("Td must be zero or more")
	case c.Td > 0 && !positive(c.N):
		return configError("N must be above zero where Td is")
	case !(c.B >= 0 && c.B <= 1):
		return configError("the setpoint weight must lie between 0 and 1")
	case !finite(c.Min) || !finite(c.Max) || !(c.Min < c.Max):
		return configError("the lower limit must be below the upper one")
	case c.AntiWindup > BackCalculation:
		return configError("there is no such anti-windup")
	case c.AntiWindup == BackCalculation && !positive(c.Tt):
		return configError("back-calculation needs a Tt above zero")
	case !(c.Tf >= 0) || !finite(c.Tf):
		return configError("Tf must be zero or more")
	}
	return nil
}

func (in Input) check() error {
	ok := positive(in.H) && finite(in.R) && finite(in.Y) && finite(in.FF) &&
		(!in.HasApplied || finite(in.Applied))
	if !ok {
		return ErrInput
	}
	return nil
}

func (s State) finite() bool {
	return finite(s.I) && finite(s.D) && finite(s.Yf) && finite(s.R) && finite(s.V) && finite(s.U)
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

func positive(x float64) bool { return x > 0 && finite(x) }
