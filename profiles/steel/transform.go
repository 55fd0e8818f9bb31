package steel

import (
	"math"

	"strawline/probe/temp"
)

// MsBand is the half width in °C to show with Ms: formulas and measurements differ by so much.
const MsBand = temp.Delta(20)

// Ms is the start of martensite with all of the composition dissolved, by van Bohemen 2012:
// 565 − 600(1 − e^(−0.96 C)) − 31 Mn − 13 Si − 10 Cr − 18 Ni − 12 Mo. It gives 220 °C for 0.79 C,
// 0.76 Mn, 0.2 Si, where an atlas has 220 (from memory).
func (c Composition) Ms() temp.C {
	return temp.C(565 - 600*-math.Expm1(-0.96*c.C) - 31*c.Mn - 13*c.Si - 10*c.Cr - 18*c.Ni - 12*c.Mo)
}

// Formula is what another formula says of the same composition.
type Formula struct {
	Name string
	At   temp.C
}

// MsOthers gives the start of martensite by the other published formulas. Andrews' linear one
// and that of Steven and Haynes were made for less than 0.6 % C and read far too low for knives.
func (c Composition) MsOthers() []Formula {
	capdevila := 764.2 - 302.6*c.C - 30.6*c.Mn - 16.6*c.Ni - 8.9*c.Cr + 2.4*c.Mo + 7.4*c.W -
		14.5*c.Si // kelvins; the tungsten term is from memory
	return []Formula{
		{"Andrews 1965, linear", temp.C(539 - 423*c.C - 30.4*c.Mn - 17.7*c.Ni - 12.1*c.Cr - 7.5*c.Mo)},
		{"Andrews 1965, product", temp.C(512 - 453*c.C - 16.9*c.Ni + 15*c.Cr - 9.5*c.Mo +
			217*c.C*c.C - 71.5*c.C*c.Mn - 67.6*c.C*c.Cr)},
		{"Steven and Haynes 1956", temp.C(561 - 474*c.C - 33*c.Mn - 17*c.Cr - 17*c.Ni - 21*c.Mo)},
		{"Capdevila and others 2002", temp.Zero.Add(temp.Delta(capdevila))},
		{"Ingber and Kunert 2022", temp.C(530.2 - 290.3*c.C - 35.5*c.Mn - 6.8*c.Si - 17.2*c.Ni -
			20.8*c.Cr - 10.4*c.Mo - 75*-math.Expm1(-0.96*c.C))},
	}
}

// Ac1SD and Ac3SD are the standard deviations of Andrews' formulas in °C, from memory.
const (
	Ac1SD = temp.Delta(11.5)
	Ac3SD = temp.Delta(16.7)
)

// Ac1 is where austenite begins to form on heating, by Andrews 1965: 723 − 10.7 Mn − 16.9 Ni +
// 29.1 Si + 16.9 Cr + 6.38 W.
func (c Composition) Ac1() temp.C {
	return temp.C(723 - 10.7*c.Mn - 16.9*c.Ni + 29.1*c.Si + 16.9*c.Cr + 6.38*c.W)
}

// Ac3 is where the last ferrite dissolves on heating, by Andrews 1965, short form: 910 − 203 √C −
// 15.2 Ni + 44.7 Si + 104 V + 31.5 Mo + 13.1 W. It is false above 0.6 % C, for which the formula
// was not made.
func (c Composition) Ac3() (temp.C, bool) {
	return temp.C(910 - 203*math.Sqrt(c.C) - 15.2*c.Ni + 44.7*c.Si + 104*c.V + 31.5*c.Mo +
		13.1*c.W), c.C > 0 && c.C <= 0.6
}

// Martensite is the share of austenite, 0 to 1, that has become martensite on quenching to a
// temperature: Koistinen and Marburger 1959, 1 − e^(−0.011(Ms − T)). Ms 200 °C leaves 15 % of
// austenite at 25 °C.
func Martensite(ms, at temp.C) float64 {
	return -math.Expm1(-0.011 * max(0, float64(ms-at)))
}

// MsRange is the start of martensite as a range with MsBand on either side. For a steel with
// more carbon than austenite takes up at its hardening heat, the lower end is for all of it
// dissolved, and why says what the upper end supposes; for the others why is "". It is false
// without a composition.
func (s Steel) MsRange() (low, high temp.C, why string, is bool) {
	c := s.Makeup.Typical
	if c.C <= 0 {
		return 0, 0, "", false
	}
	low = c.Ms().Add(-MsBand)
	part := c
	switch {
	case s.grade() == "52100":
		part.C, part.Cr = 0.65, 1.0
		why = "from 0.65 % C and 1.0 % Cr dissolved, as from 845 °C (from memory), to all of it"
	case c.C > 0.9:
		part.C = 0.77
		why = "from the eutectoid's 0.77 % C dissolved (from memory) to all of it"
	}
	return low, part.Ms().Add(MsBand), why, true
}
