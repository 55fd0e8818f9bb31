package steel

import "strawline/probe/temp"

// TemperBand is where blades are tempered: the tempering ranges of the built-in steels that a
// forge and an oil tank fit, together, each with its source in the tables. 4140 is left out, which
// is for hammers and tooling.
func TemperBand() (low, high temp.C) {
	for _, s := range List() {
		if s.Unfit() != "" || s.Name == "4140" {
			continue
		}
		if low == 0 || s.Temper.Low < low {
			low = s.Temper.Low
		}
		high = max(high, s.Temper.High)
	}
	return low, high
}
