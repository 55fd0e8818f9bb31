package shop

import (
	"reflect"
	"strings"
)

// Origin says where a value stands.
type Origin uint8

// The places.
const (
	FromNowhere Origin = iota // there is none
	FromShop                  // shop.toml
	FromFound                 // found.toml
)

// Pick is a value with where it is from. That of shop.toml wins.
type Pick[T any] struct {
	Value  T // the zero value if it is from nowhere
	Origin Origin
	Date   Date   // when it was found, or what shop.toml says of it
	Run    string // in what run; "" if it was found in none
	// Hidden is the entry of found.toml that shop.toml hides; nil if there is none, or if the
	// two are the same.
	Hidden *Entry[T]
	// Outdated says that the probe that is there now was fitted after the value was found: it
	// is of another probe, and must not be used without asking. Only of corrections.
	Outdated bool
}

// Words says where the value is from: "found 2026-11-02 in run knife-3", or
// "from shop.toml, instead of what was found 2026-11-02".
func (p Pick[T]) Words() string {
	var s strings.Builder
	switch p.Origin {
	case FromNowhere:
		return "not known"
	case FromShop:
		s.WriteString("from shop.toml")
		if p.Hidden != nil {
			s.WriteString(", instead of what was " + foundWords(p.Hidden.Date, p.Hidden.Run))
		}
	case FromFound:
		s.WriteString(foundWords(p.Date, p.Run))
	}
	if p.Outdated {
		s.WriteString(", before this probe was fitted")
	}
	return s.String()
}

func foundWords(d Date, run string) string {
	s := "found " + d.String()
	if run != "" {
		s += " in run " + run
	}
	return s
}

// pick chooses between a value of shop.toml and an entry of found.toml, either of them nil.
func pick[T any](own *T, date Date, e *Entry[T]) Pick[T] {
	switch {
	case own != nil:
		p := Pick[T]{Value: *own, Origin: FromShop, Date: date}
		if e != nil && !reflect.DeepEqual(*own, e.Value) {
			p.Hidden = e
		}
		return p
	case e != nil:
		return Pick[T]{Value: e.Value, Origin: FromFound, Date: e.Date, Run: e.Run}
	}
	return Pick[T]{}
}

// PickGains gives the gains of an oven. The rule of found gains does not come along.
func PickGains(s *Shop, f Found, oven string) Pick[Gains] {
	var own *Gains
	if o := s.Oven(oven); o != nil {
		own = o.Gains
	}
	var e *Entry[Gains]
	if g := Get(f.Gains, oven); g != nil {
		e = &Entry[Gains]{Of: g.Of, Date: g.Date, Run: g.Run, Value: g.Value.Gains}
	}
	return pick(own, Date{}, e)
}

// PickModel gives the model of an oven.
func PickModel(s *Shop, f Found, oven string) Pick[Model] {
	var own *Model
	if o := s.Oven(oven); o != nil {
		own = o.Model
	}
	return pick(own, Date{}, Get(f.Models, oven))
}

// PickConvection gives what the model of a blade takes for an oven's air.
func PickConvection(f Found, oven string) Pick[Convection] {
	return pick(nil, Date{}, Get(f.Convections, oven))
}

// PickFitted gives the day that a probe was put in.
func PickFitted(s *Shop, f Found, probe string) Pick[Date] {
	var own *Date
	if p := s.Probe(probe); p != nil && !p.Fitted.IsZero() {
		own = &p.Fitted
	}
	var e *Entry[Date]
	if t := Get(f.Fitted, probe); t != nil {
		e = &Entry[Date]{Of: t.Of, Date: t.Date, Run: t.Run, Value: t.Date}
	}
	p := pick(own, Date{}, e)
	p.Date = p.Value
	return p
}

// PickCorrection gives the correction of a probe.
func PickCorrection(s *Shop, f Found, probe string) Pick[Correction] {
	var own *Correction
	var date Date
	if p := s.Probe(probe); p != nil && p.Correction != nil {
		own, date = p.Correction, p.Correction.Date
	}
	p := pick(own, date, Get(f.Corrections, probe))
	fitted := PickFitted(s, f, probe).Value
	p.Outdated = p.Origin != FromNowhere && !fitted.IsZero() && fitted.Since(p.Date) > 0
	return p
}
