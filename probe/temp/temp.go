// Package temp has the two kinds of quantity that must never be mixed up: C, a
// temperature, and Delta, a difference of two. 25 °C of each are 77 °F and 45 °F.
// A person always gives a unit; text without one is an error.
package temp

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// C is a temperature in degrees Celsius.
type C float64

// Delta is a difference of two temperatures in degrees Celsius (kelvins).
type Delta float64

// Zero is absolute zero; nothing colder parses.
const Zero C = -273.15

// Unit says in which scale a person reads and writes temperatures.
type Unit uint8

// The two scales.
const (
	Celsius Unit = iota
	Fahrenheit
)

// String gives "°C" or "°F".
func (u Unit) String() string {
	if u == Fahrenheit {
		return "°F"
	}
	return "°C"
}

// F makes a temperature of degrees Fahrenheit: F(212) is 100 °C.
func F(f float64) C { return C((f - 32) / 1.8) }

// DeltaF makes a difference of Fahrenheit degrees: DeltaF(9) is 5 °C.
func DeltaF(f float64) Delta { return Delta(f / 1.8) }

// F gives the temperature in degrees Fahrenheit.
func (c C) F() float64 { return float64(c)*1.8 + 32 }

// F gives the difference in Fahrenheit degrees.
func (d Delta) F() float64 { return float64(d) * 1.8 }

// Add gives the temperature d above c.
func (c C) Add(d Delta) C { return c + C(d) }

// Sub gives how far c is above o.
func (c C) Sub(o C) Delta { return Delta(c - o) }

// In gives the number of the temperature in unit u.
func (c C) In(u Unit) float64 {
	if u == Fahrenheit {
		return c.F()
	}
	return float64(c)
}

// In gives the number of the difference in unit u.
func (d Delta) In(u Unit) float64 {
	if u == Fahrenheit {
		return d.F()
	}
	return float64(d)
}

// Text writes the temperature in unit u with so many decimals: "400.0 °F".
func (c C) Text(u Unit, decimals int) string { return number(c.In(u), decimals, u) }

// Text writes the difference in unit u with its sign: "+1.4 °C".
func (d Delta) Text(u Unit, decimals int) string {
	s := number(d.In(u), decimals, u)
	if !strings.HasPrefix(s, "-") {
		s = "+" + s
	}
	return s
}

func number(v float64, decimals int, u Unit) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.HasPrefix(s, "-") && strings.Trim(s, "-0.") == "" {
		s = s[1:] // no "-0"
	}
	return s + " " + u.String()
}

// Parse reads a temperature with its unit, such as "400F", "204.4 °C" or "-100C".
// It refuses text without a unit, numbers that are not finite and anything below
// absolute zero, and gives the unit that stood there.
func Parse(s string) (C, Unit, error) {
	v, u, err := split(s)
	if err != nil {
		return 0, 0, err
	}
	c := C(v)
	if u == Fahrenheit {
		c = F(v)
	}
	if c < Zero {
		return 0, 0, fmt.Errorf("%q is below absolute zero", s)
	}
	return c, u, nil
}

// ParseDelta reads a difference with its unit, such as "10F" (5.56 °C) or "5 °C".
func ParseDelta(s string) (Delta, Unit, error) {
	v, u, err := split(s)
	if err != nil {
		return 0, 0, err
	}
	if u == Fahrenheit {
		return DeltaF(v), u, nil
	}
	return Delta(v), u, nil
}

func split(s string) (float64, Unit, error) {
	t := strings.TrimSpace(s)
	u := Celsius
	switch {
	case strings.HasSuffix(t, "F"), strings.HasSuffix(t, "f"):
		u = Fahrenheit
	case strings.HasSuffix(t, "C"), strings.HasSuffix(t, "c"):
	default:
		return 0, 0, fmt.Errorf("%q has no unit: write it as 400F or 204C", s)
	}
	t = strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(t[:len(t)-1]), "°"))
	v, err := strconv.ParseFloat(t, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) || strings.ContainsAny(t, "xXpP_") {
		return 0, 0, fmt.Errorf("%q is not a number with a unit: write it as 400F or 204C", s)
	}
	return v, u, nil
}
