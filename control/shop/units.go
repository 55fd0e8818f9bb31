package shop

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"strawline/probe/temp"
)

// longestSpan keeps sums of spans far from overflow; no oven has a time constant near it.
const longestSpan = 1000 * time.Hour

// parseSpan reads a span such as "2h", "20m", "90s", "1h30m" or "12.5s": hours, minutes and
// seconds in this order, each at most once, never negative.
func parseSpan(s string) (time.Duration, error) {
	wrong := fmt.Errorf("%q is no span of time: write it as 2h, 20m or 90s", s)
	rest := strings.ReplaceAll(strings.TrimSpace(s), " ", "")
	if rest != "" && strings.Trim(rest, "0123456789.") == "" {
		return 0, fmt.Errorf("%q has no unit: write it as 2h, 20m or 90s", s)
	}
	if rest == "" {
		return 0, wrong
	}
	var sum float64 // seconds
	for units := "hms"; rest != ""; {
		i := strings.IndexAny(rest, units)
		if i <= 0 || strings.Trim(rest[:i], "0123456789.") != "" {
			return 0, wrong
		}
		v, err := strconv.ParseFloat(rest[:i], 64)
		if err != nil {
			return 0, wrong
		}
		sum += v * map[byte]float64{'h': 3600, 'm': 60, 's': 1}[rest[i]]
		units = units[strings.IndexByte(units, rest[i])+1:]
		rest = rest[i+1:]
	}
	if !(sum <= longestSpan.Seconds()) {
		return 0, fmt.Errorf("%q is longer than 1000h", s)
	}
	return time.Duration(math.Round(sum * 1e9)), nil
}

// spanText writes a span so that parseSpan gives it back to the nanosecond.
func spanText(d time.Duration) string {
	switch {
	case d%time.Hour == 0 && d > 0:
		return strconv.FormatInt(int64(d/time.Hour), 10) + "h"
	case d%time.Minute == 0 && d > 0:
		return strconv.FormatInt(int64(d/time.Minute), 10) + "m"
	}
	whole := strconv.FormatInt(int64(d/time.Second), 10)
	part := strings.TrimRight(fmt.Sprintf(".%09d", d%time.Second), "0")
	return whole + strings.TrimSuffix(part, ".") + "s"
}

// parseGain reads duty from 0 to 1 per degree, "0.057/C" or "0.032/F", and gives it per °C:
// 1.8 times as much as per Fahrenheit degree.
func parseGain(s string) (float64, error) {
	number, unit, _ := strings.Cut(strings.TrimSpace(s), "/")
	scale := 1.0
	switch strings.ToUpper(strings.TrimPrefix(strings.TrimSpace(unit), "°")) {
	case "C":
	case "F":
		scale = 1.8
	default:
		return 0, fmt.Errorf("%q has no unit: write it as 0.057/C or 0.032/F", s)
	}
	n, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
	if err != nil || !(n > 0) || math.IsInf(n, 0) || strings.ContainsAny(number, "xXpP_") {
		return 0, fmt.Errorf("%q is not a gain above 0: write it as 0.057/C or 0.032/F", s)
	}
	return n * scale, nil
}

func plain(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// tempText writes a temperature so that temp.Parse gives exactly it back: in unit u where at
// most three decimals do, in °C to the last digit otherwise.
func tempText(c temp.C, u temp.Unit) string {
	if s := plain(math.Round(c.F()*1000)/1000) + "F"; u == temp.Fahrenheit {
		if back, _, err := temp.Parse(s); err == nil && back == c {
			return s
		}
	}
	return plain(float64(c)) + "C"
}

// deltaText does so for a difference.
func deltaText(d temp.Delta, u temp.Unit) string {
	if s := plain(math.Round(d.F()*1000)/1000) + "F"; u == temp.Fahrenheit {
		if back, _, err := temp.ParseDelta(s); err == nil && back == d {
			return s
		}
	}
	return plain(float64(d)) + "C"
}
