package profiles

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"strawline/probe/temp"
)

const longestSpan = 1000 * time.Hour // keeps sums of spans far from overflow

// ParseSpan reads a span of time such as "2h", "20m", "90s", "1h30m" or "1.5h": hours,
// minutes and seconds in this order, each at most once, never negative, at most 1000 h.
// A number without a unit is an error.
func ParseSpan(s string) (time.Duration, error) {
	wrong := fmt.Errorf("%q is no span of time: write it as 2h, 20m or 1h30m", s)
	rest := strings.ReplaceAll(strings.TrimSpace(s), " ", "")
	if rest == "" {
		return 0, wrong
	}
	if strings.Trim(rest, "0123456789.") == "" {
		return 0, fmt.Errorf("%q has no unit: write it as 2h, 20m or 1h30m", s)
	}
	var sum float64 // seconds
	units := "hms"
	for rest != "" {
		i := strings.IndexAny(rest, units)
		if i <= 0 || strings.Trim(rest[:i], "0123456789.") != "" {
			return 0, wrong
		}
		v, err := strconv.ParseFloat(rest[:i], 64)
		if err != nil {
			return 0, wrong
		}
		switch rest[i] {
		case 'h':
			v *= 3600
		case 'm':
			v *= 60
		}
		sum += v
		units = units[strings.IndexByte(units, rest[i])+1:]
		rest = rest[i+1:]
	}
	if !(sum <= longestSpan.Seconds()) {
		return 0, fmt.Errorf("%q is longer than %s", s, SpanText(longestSpan))
	}
	return time.Duration(math.Round(sum * 1e9)), nil
}

// SpanText writes a span the way ParseSpan reads it, without parts that are zero: "1h30m",
// "20m", "0s".
func SpanText(d time.Duration) string {
	s := d.String()
	if strings.HasSuffix(s, "m0s") {
		s = strings.TrimSuffix(s, "0s")
	}
	if strings.HasSuffix(s, "h0m") {
		s = strings.TrimSuffix(s, "0m")
	}
	return s
}

// ParseRate reads how fast a temperature is to change, such as "300F/h" or "5C/min", and
// gives °C per second: "180F/h" is 100 °C/h, 0.0278 °C/s.
func ParseRate(s string) (float64, error) {
	t := strings.TrimSpace(s)
	per := 0.0
	if head, ok := strings.CutSuffix(t, "/h"); ok {
		t, per = head, 3600
	} else if head, ok := strings.CutSuffix(t, "/min"); ok {
		t, per = head, 60
	}
	d, _, err := temp.ParseDelta(t)
	if per == 0 || err != nil {
		return 0, fmt.Errorf("%q is no rate: write it as 300F/h or 5C/min", s)
	}
	return float64(d) / per, nil
}
