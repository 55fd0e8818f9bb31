package thermocouple

import (
	"fmt"
	"math"

	"strawline/probe/temp"
)

// Class is a tolerance class of one of the two standards; the zero Class is none.
type Class uint8

// The classes.
const (
	ASTMStandard Class = iota + 1 // ASTM E230, standard tolerance
	ASTMSpecial                   // ASTM E230, special tolerance
	IECClass1                     // IEC 60584-1, class 1
	IECClass2                     // IEC 60584-1, class 2
	IECClass3                     // IEC 60584-1, class 3
)

var classWords = [...]string{"", "ASTM E230 standard", "ASTM E230 special", "IEC 60584-1 class 1",
	"IEC 60584-1 class 2", "IEC 60584-1 class 3"}

// Classes gives every class.
func Classes() []Class {
	return []Class{ASTMStandard, ASTMSpecial, IECClass1, IECClass2, IECClass3}
}

// String gives the standard and the class in it.
func (c Class) String() string {
	if int(c) < len(classWords) {
		return classWords[c]
	}
	return "unknown class"
}

// limit is one row of a standard: from and to in °C, and the greater of abs in °C and
// share·|t|-less.
type limit struct {
	class    Class
	from, to float64
	abs      float64
	share    float64
	less     float64
}

// limits are the rows of a type. ASTM E230 (2012 and later) as a wire maker's table, a sheet of
// 2014 and a probe maker's page print it; IEC 60584-1:2013 as two probe makers and a Japanese
// text with the same numbers do; neither was read in the standard itself.
func limits(t Type) []limit {
	switch t {
	case B:
		return []limit{
			{ASTMStandard, 870, 1700, 0, 0.005, 0}, {ASTMSpecial, 870, 1700, 0, 0.0025, 0},
			{IECClass2, 600, 1700, 0, 0.0025, 0}, {IECClass3, 600, 1700, 4, 0.005, 0},
		}
	case E:
		return []limit{
			{ASTMStandard, 0, 870, 1.7, 0.005, 0}, {ASTMStandard, -200, 0, 1.7, 0.01, 0},
			{ASTMSpecial, 0, 870, 1, 0.004, 0},
			{IECClass1, -40, 800, 1.5, 0.004, 0}, {IECClass2, -40, 900, 2.5, 0.0075, 0},
			{IECClass3, -200, 40, 2.5, 0.015, 0},
		}
	case J:
		return []limit{
			{ASTMStandard, 0, 760, 2.2, 0.0075, 0}, {ASTMSpecial, 0, 760, 1.1, 0.004, 0},
			{IECClass1, -40, 750, 1.5, 0.004, 0}, {IECClass2, -40, 750, 2.5, 0.0075, 0},
		}
	case K, N:
		rows := []limit{
			{ASTMStandard, 0, 1260, 2.2, 0.0075, 0}, {ASTMSpecial, 0, 1260, 1.1, 0.004, 0},
			{IECClass1, -40, 1000, 1.5, 0.004, 0}, {IECClass2, -40, 1200, 2.5, 0.0075, 0},
			{IECClass3, -200, 40, 2.5, 0.015, 0},
		}
		if t == K { // one of the copies prints 0.01 for the share below 0 °C
			rows = append(rows, limit{ASTMStandard, -200, 0, 2.2, 0.02, 0})
		}
		return rows
	case R, S: // class 1 above 1100 °C is 1 + 0.003 (t - 1100)
		return []limit{
			{ASTMStandard, 0, 1480, 1.5, 0.0025, 0}, {ASTMSpecial, 0, 1480, 0.6, 0.001, 0},
			{IECClass1, 0, 1600, 1, 0.003, 2.3}, {IECClass2, 0, 1600, 1.5, 0.0025, 0},
		}
	case T:
		return []limit{
			{ASTMStandard, 0, 370, 1, 0.0075, 0}, {ASTMStandard, -200, 0, 1, 0.015, 0},
			{ASTMSpecial, 0, 370, 0.5, 0.004, 0},
			{IECClass1, -40, 350, 0.5, 0.004, 0}, {IECClass2, -40, 350, 1, 0.0075, 0},
			{IECClass3, -200, 40, 1, 0.015, 0},
		}
	}
	return nil
}

// Tolerance gives how far new wire of the type and class may be off at a temperature, plus or
// minus, with the reference junction at 0 °C: for K at 200 °C 2.2 °C (ASTMStandard), 1.1, 1.5
// and 2.5 °C. Used wire may be off by more. Where the standard gives the class no tolerance
// for the type at that temperature it is an error.
func (t Type) Tolerance(c Class, at temp.C) (temp.Delta, error) {
	for _, l := range limits(t) {
		if l.class == c && float64(at) >= l.from && float64(at) <= l.to {
			return temp.Delta(max(l.abs, l.share*math.Abs(float64(at))-l.less)), nil
		}
	}
	return 0, fmt.Errorf("%s has no tolerance for type %s at %.8g °C", c, t, float64(at))
}
