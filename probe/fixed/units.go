package fixed

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// What a unit of pressure is in hPa: the inch of mercury at 0 °C (NIST SP 811: 3386.389 Pa), and
// the foot, exact since 1959, in metres.
const (
	hPaPerInHg = 33.86389
	hPaPerKPa  = 10
	mPerFoot   = 0.3048
)

// ParsePressure reads a pressure with its unit: "985hPa", "985 mbar", "29.1inHg" or "98.5kPa",
// within LowestPressure to HighestPressure.
func ParsePressure(s string) (HPa, error) {
	v, err := split(s, "985hPa, 29.1inHg or 98.5kPa",
		unit{"hpa", 1}, unit{"mbar", 1}, unit{"inhg", hPaPerInHg}, unit{"kpa", hPaPerKPa})
	if err != nil {
		return 0, err
	}
	if _, err := BoilingAt(HPa(v)); err != nil {
		return 0, fmt.Errorf("%q: %w", s, err)
	}
	return HPa(v), nil
}

// ParseHeight reads a height above the sea with its unit: "420m" or "1380ft", within
// LowestHeight to HighestHeight.
func ParseHeight(s string) (Metres, error) {
	v, err := split(s, "420m or 1380ft", unit{"ft", mPerFoot}, unit{"m", 1})
	if err != nil {
		return 0, err
	}
	if _, err := Atmosphere(Metres(v)); err != nil {
		return 0, fmt.Errorf("%q: %w", s, err)
	}
	return Metres(v), nil
}

type unit struct {
	word  string // in small letters
	times float64
}

func split(s, example string, units ...unit) (float64, error) {
	t := strings.ToLower(strings.TrimSpace(s))
	for _, u := range units {
		number, is := strings.CutSuffix(t, u.word)
		if !is {
			continue
		}
		number = strings.TrimSpace(number)
		v, err := strconv.ParseFloat(number, 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) || strings.ContainsAny(number, "xp_") {
			return 0, fmt.Errorf("%q is not a number with a unit: write it as %s", s, example)
		}
		return v * u.times, nil
	}
	return 0, fmt.Errorf("%q has no unit: write it as %s", s, example)
}
