package fixed

import (
	"strings"

	"strawline/probe/temp"
)

// Point is a temperature that can be made, and what there is to know of it.
type Point struct {
	Name     string     // one word: "tin"
	Full     string     // "tin, melting"
	Is       temp.C     // the temperature of the pure substance
	Within   temp.Delta // how far a shop's may be off, plus or minus
	Source   string     // of the figures
	How      string     // how it is made
	Cautions []string   // what is dangerous, and what spoils it
}

const (
	its90 = "ITS-90, table 1 (its-90.com)"
	// How far impurities of 0.1 % lower the freezing point, computed here: share × R T² / L with
	// the heats of fusion L of a handbook, from memory.
	impure = "; ± for 0.1 % of impurities (share × R T² / L, L from memory)"
)

// All metals have these two dangers.
const (
	wet = "Water or a damp tool in molten metal throws it about: everything dry and warm first, " +
		"face shield, leather."
	hold = "A bare junction alloys with the metal and is spoilt: use a closed sheath or a thin " +
		"ceramic tube."
)

// Metals gives every melting point, the coldest first. The reading stands still while the metal
// is partly solid, coming from either side; a slow change and a stir keep it from overshooting.
func Metals() []Point {
	return []Point{
		{Name: "indium", Full: "indium, melting", Is: 156.5985, Within: 0.5,
			Source: its90 + impure, How: how, Cautions: []string{wet, hold}},
		{Name: "solder", Full: "solder Sn63Pb37, melting", Is: 183, Within: 1,
			Source: "handbook value ±1 °C, from memory; only the eutectic alloy 63/37 melts at " +
				"one temperature", How: how, Cautions: []string{lead, wet, hold}},
		{Name: "tin", Full: "tin, melting", Is: 231.928, Within: 0.3, Source: its90 + impure,
			How: how, Cautions: []string{"Tin cools well below its freezing point before it " +
				"begins to freeze: stir, and take the melting plateau if in doubt.", wet, hold}},
		{Name: "lead", Full: "lead, melting", Is: 327.462, Within: 0.7,
			Source: "Bedford et al., Metrologia 33, 133 (1996), from memory" + impure, How: how,
			Cautions: []string{lead, wet, hold}},
		{Name: "zinc", Full: "zinc, melting", Is: 419.527, Within: 0.6, Source: its90 + impure,
			How: how, Cautions: []string{"Molten zinc dissolves steel and nickel sheaths: " +
				"ceramic or graphite only, and not for long. Its fumes bring fever: air.", wet}},
		{Name: "antimony", Full: "antimony, melting", Is: 630.63, Within: 0.4,
			Source: "Bedford et al., Metrologia 33, 133 (1996), from memory" + impure, How: how,
			Cautions: []string{"Antimony and its fumes are poisonous, and it cools far below " +
				"its freezing point before it freezes.", wet, hold}},
		{Name: "aluminium", Full: "aluminium, melting", Is: 660.323, Within: 0.7,
			Source: its90 + impure + "; castings and most sheet are alloys, which melt over a range",
			How:    how, Cautions: []string{"Molten aluminium dissolves steel sheaths: ceramic or " +
				"graphite.", wet}},
		{Name: "salt", Full: "table salt, melting", Is: 801, Within: 1,
			Source: "handbook value ±1 °C, from memory",
			How:    how, Cautions: []string{"Molten salt spits if it is damp, and eats sheaths.", wet}},
		{Name: "silver", Full: "silver, melting", Is: 961.78, Within: 1.1, Source: its90 + impure,
			How: how, Cautions: []string{"Silver in air takes up oxygen and freezes about 10 °C " +
				"too low (from memory): keep charcoal or graphite on it.", wet, hold}},
		{Name: "gold", Full: "gold, melting", Is: 1064.18, Within: 1.2, Source: its90 + impure,
			How: how, Cautions: []string{wet, hold}},
		{Name: "copper", Full: "copper, melting", Is: 1084.62, Within: 1.2, Source: its90 + impure,
			How: how, Cautions: []string{"Copper in air takes up oxygen and freezes up to 19 °C " +
				"too low (from memory): keep charcoal or graphite on it.", wet, hold}},
	}
}

const how = "Melt it in a small crucible with the tip in its middle, 2 cm deep. Take the heat " +
	"down so that it changes slowly, stir, and take the reading that stands still while solid " +
	"and liquid are there together."

const lead = "Lead fumes and dust poison: outdoors or under a hood, no hotter than needed, " +
	"wash hands."

// Metal finds a melting point by its name or its chemical sign, of which case does not matter.
func Metal(name string) (Point, bool) {
	signs := map[string]string{"in": "indium", "sn": "tin", "pb": "lead", "zn": "zinc",
		"sb": "antimony", "al": "aluminium", "aluminum": "aluminium", "nacl": "salt",
		"ag": "silver", "au": "gold", "cu": "copper", "sn63pb37": "solder"}
	name = strings.ToLower(strings.TrimSpace(name))
	if full, is := signs[name]; is {
		name = full
	}
	for _, p := range Metals() {
		if p.Name == name {
			return p, true
		}
	}
	return Point{}, false
}
