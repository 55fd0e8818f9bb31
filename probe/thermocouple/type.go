package thermocouple

import (
	"fmt"
	"strings"

	"strawline/probe/temp"
)

// Type is a letter-designated thermocouple type; the zero Type is none.
type Type uint8

// The types of the reference functions.
const (
	B Type = iota + 1 // Pt-30%Rh / Pt-6%Rh
	E                 // Ni-Cr / Cu-Ni
	J                 // Fe / Cu-Ni
	K                 // Ni-Cr / Ni-Al
	N                 // Ni-Cr-Si / Ni-Si
	R                 // Pt-13%Rh / Pt
	S                 // Pt-10%Rh / Pt
	T                 // Cu / Cu-Ni
)

var curves = [...]*curve{B: &typeB, E: &typeE, J: &typeJ, K: &typeK, N: &typeN, R: &typeR,
	S: &typeS, T: &typeT}

// Types gives every type in the order of the alphabet.
func Types() []Type { return []Type{B, E, J, K, N, R, S, T} }

// String gives the type's letter, "?" for none.
func (t Type) String() string {
	if t.known() {
		return curves[t].name
	}
	return "?"
}

func (t Type) known() bool { return t >= B && t <= T }

// ParseType reads a type's letter, large or small.
func ParseType(s string) (Type, error) {
	var letters []string
	for _, t := range Types() {
		if strings.EqualFold(s, t.String()) {
			return t, nil
		}
		letters = append(letters, t.String())
	}
	return 0, fmt.Errorf("no thermocouple type %q: there is %s", s, strings.Join(letters, ", "))
}

// unknown is the error of a Type that none of the constants is.
func (t Type) unknown() error { return fmt.Errorf("no thermocouple type %d", uint8(t)) }

// Range gives the ends of the type's reference function in °C: -270 to 1372 for K. It is 0 to
// 0 for no type.
func (t Type) Range() (low, high temp.C) {
	if !t.known() {
		return 0, 0
	}
	l, h := curves[t].domain()
	return temp.C(l), temp.C(h)
}

// EMF gives the emf in mV with the reference junction at 0 °C: K.EMF(200) is 8.138 mV. Outside
// Range, for a number that is not finite and for no type it is an error.
func (t Type) EMF(c temp.C) (mV float64, err error) {
	if !t.known() {
		return 0, t.unknown()
	}
	return curves[t].checkedEMF(float64(c))
}

// printedHalf is half the last digit of the printed tables, mV.
const printedHalf = 0.0005

// Temp gives the temperature from the emf in mV with the reference junction at 0 °C, within
// 2e-6 °C of the reference function: K.Temp(8.138) is 200.0 °C. An emf that only the rounding to
// 1 µV has put beyond the last one is taken for the last one. Outside the emfs of Range, for a
// number that is not finite and for no type it is an error. Type B has the same emf twice below
// about 42 °C, so its temperatures begin at 50 °C.
func (t Type) Temp(mV float64) (temp.C, error) {
	if !t.known() {
		return 0, t.unknown()
	}
	k := curves[t]
	low, high := k.emfs()
	if mV > high && mV <= high+printedHalf {
		mV = high
	}
	if mV < low && mV >= low-printedHalf && t != B {
		mV = low
	}
	c, err := k.temp(mV)
	return temp.C(c), err
}

// Across gives the emf in mV that a meter shows with the hot junction at one temperature and
// its own terminals, the cold junction, at another: K.Across(200, 25) is 7.138 mV. Both must
// be in Range.
func (t Type) Across(hot, cold temp.C) (mV float64, err error) {
	h, err := t.EMF(hot)
	if err != nil {
		return 0, err
	}
	c, err := t.EMF(cold)
	if err != nil {
		return 0, fmt.Errorf("cold junction: %w", err)
	}
	return h - c, nil
}

// Hot undoes Across: the hot junction from what a meter shows in mV and the cold junction. The
// emfs are added and not the temperatures. The errors are those of EMF and Temp.
func (t Type) Hot(mV float64, cold temp.C) (temp.C, error) {
	c, err := t.EMF(cold)
	if err != nil {
		return 0, fmt.Errorf("cold junction: %w", err)
	}
	return t.Temp(mV + c)
}
