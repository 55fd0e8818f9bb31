package profiles

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"time"

	"strawline/probe/temp"
)

// stepJSON and profileJSON are the one JSON form of a profile. What does not apply is absent.
type stepJSON struct {
	Kind   string   `json:"kind"`
	To     *float64 `json:"to_c,omitempty"`
	Rate   float64  `json:"rate_c_per_s,omitempty"`
	For    float64  `json:"for_s,omitempty"`
	Band   float64  `json:"band_c,omitempty"`
	Within float64  `json:"within_s,omitempty"`
	Say    string   `json:"say,omitempty"`
	Heat   bool     `json:"heat,omitempty"`
	Most   float64  `json:"most_s,omitempty"`
	Blade  string   `json:"blade,omitempty"`
	Cycle  int      `json:"cycle,omitempty"`
}

type profileJSON struct {
	Name    string  `json:"name"`
	Title   string  `json:"title"`
	Note    string  `json:"note,omitempty"`
	Unit    string  `json:"unit"`
	Limit   float64 `json:"limit_c"`
	Made    bool    `json:"limit_made,omitempty"`
	Longest float64 `json:"longest_s"`
	Steps   []Step  `json:"steps"`
}

var bladeWords = [...]string{"", "in", "out"}

// MarshalJSON writes the step with keys in snake case that end in the unit: to_c, for_s,
// within_s (Limit), most_s. A step of no known kind is an error, and so is NaN.
func (s Step) MarshalJSON() ([]byte, error) {
	if s.Kind > Wait || s.Load > LoadOut {
		return nil, fmt.Errorf("profile step: unknown kind %d or blade %d", s.Kind, s.Load)
	}
	j := stepJSON{
		Kind: s.Kind.String(), Rate: s.Rate, For: s.For.Seconds(), Band: float64(s.Band),
		Within: s.Limit.Seconds(), Say: s.Say, Heat: s.Heat, Most: s.Most.Seconds(),
		Blade: bladeWords[s.Load], Cycle: s.Cycle,
	}
	if s.Kind != Wait || s.To != 0 {
		to := float64(s.To)
		j.To = &to
	}
	return json.Marshal(j)
}

// UnmarshalJSON reads what MarshalJSON writes, exactly.
func (s *Step) UnmarshalJSON(data []byte) error {
	var j stepJSON
	if err := json.Unmarshal(data, &j); err != nil {
		return plainer("step", err)
	}
	out := Step{
		Rate: j.Rate, For: seconds(j.For), Band: temp.Delta(j.Band), Limit: seconds(j.Within),
		Say: j.Say, Heat: j.Heat, Most: seconds(j.Most), Cycle: j.Cycle,
	}
	if j.To != nil {
		out.To = temp.C(*j.To)
	}
	kind, ok := indexOf(kindWords[:], j.Kind)
	if !ok {
		return fmt.Errorf("profile step: %q is no kind of step", j.Kind)
	}
	load, ok := indexOf(bladeWords[:], j.Blade)
	if !ok {
		return fmt.Errorf("profile step: %q is no state of the blade", j.Blade)
	}
	out.Kind, out.Load = Kind(kind), Load(load)
	*s = out
	return nil
}

// MarshalJSON writes the profile with limit_c, longest_s and its steps; unit is "F" or "C"
// and says how a person reads it, while every figure is in °C and seconds.
func (p Profile) MarshalJSON() ([]byte, error) {
	j := profileJSON{Name: p.Name, Title: p.Title, Note: p.Note, Unit: "C",
		Limit: float64(p.Limit), Made: p.LimitMade, Longest: p.Longest.Seconds(), Steps: p.Steps}
	if p.Unit == temp.Fahrenheit {
		j.Unit = "F"
	}
	if j.Steps == nil {
		j.Steps = []Step{}
	}
	return json.Marshal(j)
}

// UnmarshalJSON reads what MarshalJSON writes, exactly. It does not Check.
func (p *Profile) UnmarshalJSON(data []byte) error {
	var j profileJSON
	if err := json.Unmarshal(data, &j); err != nil {
		return plainer("profile", err)
	}
	unit, ok := unitOf(j.Unit)
	if !ok {
		return fmt.Errorf("profile: %q is no unit: F or C", j.Unit)
	}
	*p = Profile{Name: j.Name, Title: j.Title, Note: j.Note, Unit: unit,
		Limit: temp.C(j.Limit), LimitMade: j.Made, Longest: seconds(j.Longest), Steps: j.Steps}
	return nil
}

// seconds is exact for what Duration.Seconds gave, up to 2^53 ns (104 days).
func seconds(s float64) time.Duration {
	return time.Duration(math.Round(s * 1e9))
}

func indexOf(words []string, word string) (int, bool) {
	for i, w := range words {
		if w == word {
			return i, true
		}
	}
	return 0, false
}

// plainer says a type error without the names of Go types.
func plainer(what string, err error) error {
	var te *json.UnmarshalTypeError
	if errors.As(err, &te) {
		return fmt.Errorf("profile %s: %s cannot be a %s", what, te.Field, te.Value)
	}
	return err
}
