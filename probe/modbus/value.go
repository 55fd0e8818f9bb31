package modbus

import (
	"errors"
	"fmt"
	"math"
)

// Type is how a channel's registers are to be read.
type Type uint8

// The types. All but the first two take two registers.
const (
	Int16 Type = iota + 1
	Uint16
	Int32
	Uint32
	Float32 // IEEE 754
)

// String gives the word that a shop file has for the type.
func (t Type) String() string { return nameOf(typeNames[:], int(t)) }

// Registers gives how many registers a value of the type takes: 1 or 2.
func (t Type) Registers() int {
	if t == Int16 || t == Uint16 {
		return 1
	}
	return 2
}

// ParseType reads the word of a type: int16, uint16, int32, uint32 or float32.
func ParseType(s string) (Type, error) {
	i, err := indexOf(typeNames[:], s, "type")
	return Type(i), err
}

// Order is how the four bytes of a two-register value stand on the line, A the highest. The
// protocol fixes the two bytes of a register (AB) and leaves the rest to the maker.
type Order uint8

// The orders. Of a single register ABCD and CDAB mean high byte first, the others low first.
const (
	ABCD Order = iota + 1 // high word first, as the protocol's own numbers
	CDAB                  // low word first
	BADC                  // high word first, bytes of each word swapped
	DCBA                  // lowest byte first
)

// String gives the four letters.
func (o Order) String() string { return nameOf(orderNames[:], int(o)) }

// ParseOrder reads the four letters of an order.
func ParseOrder(s string) (Order, error) {
	i, err := indexOf(orderNames[:], s, "word order")
	return Order(i), err
}

var (
	typeNames  = [...]string{"", "int16", "uint16", "int32", "uint32", "float32"}
	orderNames = [...]string{"", "ABCD", "CDAB", "BADC", "DCBA"}
)

func nameOf(names []string, i int) string {
	if i > 0 && i < len(names) {
		return names[i]
	}
	return "unknown"
}

func indexOf(names []string, s, what string) (int, error) {
	for i, n := range names {
		if i > 0 && n == s {
			return i, nil
		}
	}
	return 0, fmt.Errorf("%q is no %s: write one of %v", s, what, names[1:])
}

// Format says how registers become a number.
type Format struct {
	Type      Type
	Order     Order
	Scale     float64 // the number is the registers' value times Scale; above 0, such as 0.1
	Low, High float64 // what the module can measure, in the number's unit; Low below High
}

// ErrFormat says that a Format makes no number.
var ErrFormat = errors.New("no format for a number")

// Check gives nil, or an ErrFormat that says what is wrong.
func (f Format) Check() error {
	switch {
	case f.Type < Int16 || f.Type > Float32:
		return fmt.Errorf("%w: there is no such type", ErrFormat)
	case f.Order < ABCD || f.Order > DCBA:
		return fmt.Errorf("%w: there is no such word order", ErrFormat)
	case !(f.Scale > 0) || math.IsInf(f.Scale, 0):
		return fmt.Errorf("%w: a scale is above zero, such as 0.1; this is %g", ErrFormat, f.Scale)
	case !(f.Low < f.High) || math.IsInf(f.Low, 0) || math.IsInf(f.High, 0):
		return fmt.Errorf("%w: the lowest figure, %g, is not below the highest, %g", ErrFormat,
			f.Low, f.High)
	}
	return nil
}

// Fault says why registers have no number; FaultNone means that they have one.
type Fault uint8

// The faults.
const (
	FaultNone   Fault = iota
	FaultNaN          // not a number, or infinite
	FaultEnd          // a code at the end of its type, which stands for anything beyond it
	FaultRange        // outside Low to High
	FaultFormat       // the format makes no number, or the bytes are not as many as its type has
)

// String gives the fault in words, "" for FaultNone.
func (f Fault) String() string {
	words := [...]string{"", "not a number", "at the end of its scale", "out of range",
		"not of the format"}
	if int(f) < len(words) {
		return words[f]
	}
	return "unknown fault"
}

// Value gives the number of a reply's registers, two or four bytes, or why there is none; the
// number is then 0. The highest code of an integer type and the lowest of a signed one are
// FaultEnd: a module that cannot count further stays there, and many send them for an open
// probe (from memory). Lowest of uint16 and uint32 is 0, an honest reading. Two registers 43 8C
// 80 00 as float32 in the order ABCD with Scale 1 are 281.
func (f Format) Value(data []byte) (float64, Fault) {
	if f.Check() != nil || len(data) != 2*f.Type.Registers() {
		return 0, FaultFormat
	}
	v, fault := f.raw(data)
	if fault != FaultNone {
		return 0, fault
	}
	if v *= f.Scale; !(v >= f.Low && v <= f.High) {
		return 0, FaultRange
	}
	return v, FaultNone
}

func (f Format) raw(data []byte) (float64, Fault) {
	bits := f.arrange(data)
	var v float64
	var end bool
	switch f.Type {
	case Int16:
		v, end = float64(int16(bits)), int16(bits) == math.MaxInt16 || int16(bits) == math.MinInt16
	case Uint16:
		v, end = float64(bits), bits == math.MaxUint16
	case Int32:
		v, end = float64(int32(bits)), int32(bits) == math.MaxInt32 || int32(bits) == math.MinInt32
	case Uint32:
		v, end = float64(bits), bits == math.MaxUint32
	case Float32:
		v = float64(math.Float32frombits(bits))
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return 0, FaultNaN
		}
	}
	if end {
		return 0, FaultEnd
	}
	return v, FaultNone
}

// arrange puts the bytes in the protocol's own order and makes one number of them.
func (f Format) arrange(p []byte) uint32 {
	swapped := f.Order == BADC || f.Order == DCBA
	one := func(p []byte) uint32 {
		if swapped {
			return uint32(p[1])<<8 | uint32(p[0])
		}
		return uint32(p[0])<<8 | uint32(p[1])
	}
	if len(p) == 2 {
		return one(p)
	}
	high, low := one(p), one(p[2:])
	if f.Order == CDAB || f.Order == DCBA {
		high, low = low, high
	}
	return high<<16 | low
}
