package main

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"strawline/probe/temp"
	"strawline/profiles"
)

// Each type below is a value of an option: it reads what a person wrote, unit included, and
// knows whether it was given at all.

// tempValue is a temperature: "400F", "-100C".
type tempValue struct {
	c     temp.C
	unit  temp.Unit
	given bool
}

func (v *tempValue) Type() string { return "temperature" }

func (v *tempValue) String() string {
	if v == nil || !v.given {
		return ""
	}
	return v.c.Text(v.unit, 1)
}

// Set reads the temperature with its unit.
func (v *tempValue) Set(s string) (err error) {
	v.c, v.unit, err = temp.Parse(s)
	v.given = err == nil
	return err
}

// deltaValue is a difference of temperatures above 0: "10F".
type deltaValue struct {
	d     temp.Delta
	unit  temp.Unit
	given bool
}

func (v *deltaValue) Type() string { return "difference" }

func (v *deltaValue) String() string {
	if v == nil || !v.given {
		return ""
	}
	return strings.TrimPrefix(v.d.Text(v.unit, 1), "+")
}

// Set reads the difference with its unit.
func (v *deltaValue) Set(s string) (err error) {
	v.d, v.unit, err = temp.ParseDelta(s)
	if err == nil && v.d <= 0 {
		err = fmt.Errorf("%q must be above 0", s)
	}
	v.given = err == nil
	return err
}

// spanValue is a span of time of 0 or more: "2h", "120s", "1h30m".
type spanValue struct {
	d     time.Duration
	given bool
}

func (v *spanValue) Type() string { return "span" }

func (v *spanValue) String() string {
	if v == nil || !v.given {
		return ""
	}
	return profiles.SpanText(v.d)
}

// Set reads the span with its unit.
func (v *spanValue) Set(s string) (err error) {
	v.d, err = profiles.ParseSpan(s)
	v.given = err == nil
	return err
}

// mmPerInch is exact since the international yard and pound agreement of 1959.
const mmPerInch = 25.4

// lengthValue is a length above 0: "4mm", "0.16in", "3/16in".
type lengthValue struct {
	mm    float64
	given bool
}

func (v *lengthValue) Type() string { return "length" }

func (v *lengthValue) String() string {
	if v == nil || !v.given {
		return ""
	}
	return strconv.FormatFloat(v.mm, 'g', 6, 64) + "mm"
}

// Set reads the length with its unit.
func (v *lengthValue) Set(s string) error {
	number, inches := strings.CutSuffix(strings.TrimSpace(s), "in")
	number, metric := strings.CutSuffix(number, "mm")
	if inches == metric {
		return fmt.Errorf("%q has no unit: write it as 4mm or 0.16in", s)
	}
	n, err := fraction(strings.TrimSpace(number))
	if err != nil || n <= 0 {
		return fmt.Errorf("%q is not a length above 0: write it as 4mm or 0.16in", s)
	}
	if inches {
		n *= mmPerInch
	}
	v.mm, v.given = n, true
	return nil
}

// fraction reads "0.16" or "3/16".
func fraction(s string) (float64, error) {
	over, under, is := strings.Cut(s, "/")
	n, err := finite(over)
	if err != nil || !is {
		return n, err
	}
	d, err := finite(under)
	if err == nil && d <= 0 {
		err = errors.New("nothing to divide by")
	}
	return n / d, err
}

// finite reads a plain decimal number.
func finite(s string) (float64, error) {
	n, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsNaN(n) || math.IsInf(n, 0) || strings.ContainsAny(s, "xXpP_") {
		return 0, fmt.Errorf("%q is not a number", s)
	}
	return n, nil
}

// gainValue is a proportional gain, duty from 0 to 1 per degree: "0.057/C", "0.032/F". A gain
// per Fahrenheit degree is 1.8 times as large per Celsius degree.
type gainValue struct {
	perC  float64
	given bool
}

func (v *gainValue) Type() string { return "gain" }

func (v *gainValue) String() string {
	if v == nil || !v.given {
		return ""
	}
	return strconv.FormatFloat(v.perC, 'g', 6, 64) + "/C"
}

// Set reads the gain with its unit.
func (v *gainValue) Set(s string) error {
	number, unit, _ := strings.Cut(strings.TrimSpace(s), "/")
	scale := 1.0
	switch strings.ToUpper(strings.TrimPrefix(strings.TrimSpace(unit), "°")) {
	case "C":
	case "F":
		scale = 1.8
	default:
		return fmt.Errorf("%q has no unit: write it as 0.057/C or 0.032/F", s)
	}
	n, err := finite(strings.TrimSpace(number))
	if err != nil || n <= 0 {
		return fmt.Errorf("%q is not a gain above 0: write it as 0.057/C or 0.032/F", s)
	}
	v.perC, v.given = n*scale, true
	return nil
}

// paceValue is how many seconds of the simulated shop pass in one of ours: "max" for as many
// as the machine can, 1 for the shop's own pace, or a factor above 0.
type paceValue struct {
	max    bool
	factor float64
}

func (v *paceValue) Type() string { return "pace" }

func (v *paceValue) String() string {
	if v == nil || !v.max && v.factor == 0 {
		return ""
	}
	if v.max {
		return "max"
	}
	return strconv.FormatFloat(v.factor, 'g', 6, 64)
}

// Set reads the pace.
func (v *paceValue) Set(s string) error {
	if s == "max" {
		*v = paceValue{max: true}
		return nil
	}
	n, err := finite(s)
	if err != nil || n <= 0 {
		return fmt.Errorf("%q is not a pace: write max, 1 or a factor above 0", s)
	}
	*v = paceValue{factor: n}
	return nil
}

// seedValue is a whole number of 0 or more.
type seedValue struct {
	n     uint64
	given bool
}

func (v *seedValue) Type() string { return "number" }

func (v *seedValue) String() string {
	if v == nil || !v.given {
		return ""
	}
	return strconv.FormatUint(v.n, 10)
}

// Set reads the seed.
func (v *seedValue) Set(s string) error {
	n, err := strconv.ParseUint(s, 10, 64)
	if err != nil {
		return fmt.Errorf("%q is not a whole number of 0 or more", s)
	}
	v.n, v.given = n, true
	return nil
}

// mainsValue is the mains frequency, 50 or 60 Hz.
type mainsValue struct{ hz int }

func (v *mainsValue) Type() string { return "frequency" }

func (v *mainsValue) String() string {
	if v == nil || v.hz == 0 {
		return ""
	}
	return strconv.Itoa(v.hz) + "Hz"
}

// Set reads the frequency with its unit.
func (v *mainsValue) Set(s string) error {
	switch strings.ToLower(strings.ReplaceAll(s, " ", "")) {
	case "50hz":
		v.hz = 50
	case "60hz":
		v.hz = 60
	default:
		return fmt.Errorf("%q is not a mains frequency: write 50Hz or 60Hz", s)
	}
	return nil
}

// wordValue is one of a few words.
type wordValue struct {
	word    string
	allowed []string
}

func (v *wordValue) Type() string { return "word" }

func (v *wordValue) String() string {
	if v == nil {
		return ""
	}
	return v.word
}

// Set takes one of the words.
func (v *wordValue) Set(s string) error {
	for _, w := range v.allowed {
		if s == w {
			v.word = s
			return nil
		}
	}
	hint := ""
	if near := nearest(s, v.allowed); near != "" {
		hint = fmt.Sprintf("; did you mean %s?", near)
	}
	return fmt.Errorf("no %q: there is %s%s", s, strings.Join(v.allowed, ", "), hint)
}
