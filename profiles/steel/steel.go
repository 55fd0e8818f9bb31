// Package steel has what heat does to a blade: steels and where each of their figures comes
// from, the dose of a temper and the hardness that measured steels had after it, the start of
// martensite, the blade's lag behind the oven's air, and the colours of hot steel. It is
// arithmetic and tables: it does no input or output and asks no clock.
package steel

import (
	"slices"
	"strings"

	"strawline/probe/temp"
)

//go:generate go run gen.go

// Origin says where a figure comes from.
type Origin struct {
	Source     string // the page, sheet or book
	Provenance string // "read", "from memory", "computed", "read and from memory", "yours"
	Detail     string // what else the reader of the source noted; may be empty
	Confidence string // "high", "medium" or "low"; "" for a smith's own
}

// String says it for a person: "from memory; ASM Heat Treater's Guide (1995), not opened".
func (o Origin) String() string {
	parts := []string{o.Provenance}
	if o.Detail != "" {
		parts[0] += " (" + o.Detail + ")"
	}
	if o.Source != "" {
		parts = append(parts, o.Source)
	}
	if o.Confidence == "low" {
		parts = append(parts, "low confidence")
	}
	return strings.Join(parts, "; ")
}

// Composition is in percent by weight.
type Composition struct {
	C, Mn, Si, Cr, Ni, Mo, V, W float64
}

// Makeup is a composition: what is typical, and the range of the grade. An element whose range
// is 0 to 0 is not specified.
type Makeup struct {
	Typical, Least, Most Composition
	Origin               Origin
}

// Temps is a temperature with its range. Low and High are 0 if there is none; At is 0 if only
// the range is known.
type Temps struct {
	At, Low, High temp.C
	Origin        Origin
}

// Known reports whether there is any figure.
func (t Temps) Known() bool { return t.At != 0 || t.High != 0 }

// Range is a range of minutes or of HRC; both are 0 if unknown.
type Range struct {
	Low, High float64
	Origin    Origin
}

// Known reports whether there is a figure.
func (r Range) Known() bool { return r.High != 0 }

// Heats are the normalising heats of shop practice, in their order.
type Heats struct {
	At     []temp.C
	Origin Origin
}

// Quench says in what a steel is quenched.
type Quench struct {
	Medium string // "oil under 6 mm, water/brine thicker"
	Class  string // of oil: "fast oil"
	Origin Origin
}

// Sheet is hardness against temperature as data sheets print it, for a temper of 2 h.
type Sheet struct {
	Points []SheetPoint
	Origin Origin
}

// SheetPoint is the hardness in HRC after 2 h at a temperature.
type SheetPoint struct {
	At  temp.C
	HRC float64
}

// Steel is one steel and its figures. Figures that are not known are zero.
type Steel struct {
	Name       string
	Makeup     Makeup
	Normalise  Temps
	Cycle      Heats
	Preheat    Temps
	Harden     Temps // austenitising
	Soak       Range // minutes at the hardening heat
	Quench     Quench
	AsQuenched Range // HRC
	Temper     Temps
	Usual      Temps  // the part of Temper that is usual for blades
	MsMeasured Temps  // start of martensite
	Ac1        Temps  // where a source gives it; Composition.Ac1 computes it
	Sheet      Sheet  // hardness after 2 h as sheets print it
	Base       string // whose figures stand for a smith's own steel; "" otherwise
}

// List gives the built-in steels, fresh copies, first those that a forge and an oil tank fit.
func List() []Steel { return builtin() }

// Find looks a steel up by name, whatever the case, first among own, a smith's own steels,
// then among the built-in ones.
func Find(name string, own []Steel) (Steel, bool) {
	for _, s := range slices.Concat(own, List()) {
		if strings.EqualFold(s.Name, name) {
			return s, true
		}
	}
	return Steel{}, false
}

// grade is the built-in steel whose figures s goes by.
func (s Steel) grade() string {
	if s.Base != "" {
		return s.Base
	}
	return s.Name
}

// Unfit says why a forge and an oil tank do not fit the steel; "" if they do.
func (s Steel) Unfit() string {
	why := ""
	switch s.grade() {
	case "A2":
		why = "it hardens in air after a long soak without scale, in foil or vacuum"
	case "D2":
		why = "with 12 % chromium it hardens in air after a long soak without scale"
	case "440C":
		why = "it is stainless: its carbides need a long exact soak, a plate or fast oil quench " +
			"and cold after it"
	case "AEB-L":
		why = "it is stainless: it needs a long exact soak, quenching between plates and cold " +
			"after it"
	default:
		return ""
	}
	return "a forge and an oil tank do not fit " + s.grade() + ": " + why +
		". Send it out, or use a sealed oven."
}

// Advice is what the figures alone do not say of the steel, in our own words; "" if nothing.
func (s Steel) Advice() string {
	switch s.grade() {
	case "1095", "W1", "W2":
		return "It must pass the pearlite nose in about a second: thin blades, the fastest oil " +
			"or brine. Above the top of its hardening range more carbon dissolves, and more " +
			"austenite stays."
	case "1075", "1080", "1084":
		return "It must pass the pearlite nose in about a second: thin blades and fast oil."
	case "52100":
		return "The soak decides: how much carbon dissolves sets hardness and martensite start."
	case "O1":
		return "A forge can do it, an oven with a steady soak does it better. One sheet says " +
			"not to normalise it."
	case "L6":
		return "Thin sections harden in air, so normalising hardens it: anneal afterwards. One " +
			"sheet says not to normalise it."
	case "15N20":
		return "Nickel lowers its critical temperature: it is over-heated sooner than 1084. " +
			"Check the mill certificate."
	case "80CrV2":
		return "Check the mill certificate."
	case "4140":
		return "Not a steel for blades: hammers and tooling."
	}
	return ""
}
