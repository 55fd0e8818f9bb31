package steel

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// vickers are HV for 40 to 68 HRC in steps of 1, ASTM E140 table 1: 40, 45, 50, 55, 60, 65 and 68
// were read in a public copy, the rows between are from memory.
func vickers() []float64 {
	return []float64{
		392, 402, 412, 423, 434, 446, 458, 471, 484, 498, // 40 to 49
		513, 528, 544, 560, 577, 595, 613, 633, 653, 674, // 50 to 59
		697, 720, 746, 772, 800, 832, 865, 900, 940, // 60 to 68
	}
}

// The ends of the conversion.
const (
	SoftestHRC = 40.0
	HardestHRC = 68.0
)

// HV converts Rockwell C to Vickers by ASTM E140 table 1, straight between its rows; an error
// outside 40 to 68 HRC.
func HV(hrc float64) (float64, error) {
	if !(hrc >= SoftestHRC && hrc <= HardestHRC) {
		return 0, fmt.Errorf("%.4g HRC is outside %g to %g", hrc, SoftestHRC, HardestHRC)
	}
	rows := vickers()
	i := min(int(hrc-SoftestHRC), len(rows)-2)
	return rows[i] + (rows[i+1]-rows[i])*(hrc-SoftestHRC-float64(i)), nil
}

// HRC converts Vickers to Rockwell C, the inverse of HV; an error outside 392 to 940 HV.
func HRC(hv float64) (float64, error) {
	rows := vickers()
	if !(hv >= rows[0] && hv <= rows[len(rows)-1]) {
		return 0, fmt.Errorf("%.4g HV is outside %g to %g", hv, rows[0], rows[len(rows)-1])
	}
	i := 0
	for i < len(rows)-2 && hv > rows[i+1] {
		i++
	}
	return SoftestHRC + float64(i) + (hv-rows[i])/(rows[i+1]-rows[i]), nil
}

// ParseHRC reads a hardness with its unit, such as "60HRC" or "60.5 HRC": above 0 and at most 70.
func ParseHRC(s string) (float64, error) {
	t := strings.TrimSpace(s)
	n := len(t) - len("HRC")
	if n <= 0 || !strings.EqualFold(t[n:], "HRC") {
		return 0, fmt.Errorf("%q has no unit: write it as 60HRC", s)
	}
	number := strings.TrimSpace(t[:n])
	v, err := strconv.ParseFloat(number, 64)
	if err != nil || math.IsNaN(v) || strings.ContainsAny(number, "xXpP_") {
		return 0, fmt.Errorf("%q is not a hardness: write it as 60HRC", s)
	}
	if !(v > 0 && v <= 70) {
		return 0, fmt.Errorf("%q is no hardness of steel: above 0 and at most 70 HRC", s)
	}
	return v, nil
}

// Step is the figure to which a hardness is rounded, half an HRC, or a whole one where the band
// is 3 or more to either side.
func Step(band float64) float64 {
	if band >= 3 {
		return 1
	}
	return 0.5
}
