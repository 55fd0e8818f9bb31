package steel

import "strawline/probe/temp"

// Colour is the name of a colour that steel shows, with how far off the temperature may be.
type Colour struct {
	Name      string // "none" or "black" if there is none
	From      temp.C // where it begins
	PlusMinus temp.Delta
}

// TemperNote says what the temper colours hold for.
const TemperNote = "bright plain carbon steel, for minutes; longer heat moves the colour on, and " +
	"chromium steels colour later"

// GlowNote says what the glow colours hold for.
const GlowNote = "in dim light; never a setpoint"

// StrawNote gives both figures for straw with the time that each holds for. The first is common
// practice; the second the middle of five tables, testdata/steel/colours.json.
const StrawNote = "straw: about 400 °F (204 °C) after a temper of 2 h, as makers say; " +
	"465 ± 25 °F (240 ± 15 °C) for minutes on bright steel, as the tables say"

// temperColours begin at °C on a short heat.
func temperColours() []Colour {
	return []Colour{
		{"none", 0, 15}, {"faint straw", 205, 15}, {"pale straw", 220, 15}, {"straw", 240, 15},
		{"brown", 255, 15}, {"brown purple", 270, 15}, {"purple", 285, 15},
		{"dark blue", 300, 15}, {"blue", 320, 15}, {"pale blue", 340, 15}, {"grey", 370, 15},
	}
}

// glowColours begin at °C in dim light.
func glowColours() []Colour {
	return []Colour{
		{"black", 0, 60}, {"faint red, dark room only", 480, 60}, {"faint red", 550, 60},
		{"dark red", 650, 60}, {"dull red", 730, 60}, {"cherry", 780, 60},
		{"bright cherry", 840, 60}, {"light cherry", 900, 60}, {"orange", 980, 60},
		{"yellow orange", 1080, 60}, {"yellow", 1180, 60}, {"yellow white", 1280, 60},
		{"white", 1320, 60},
	}
}

// TemperColour is the oxide colour of bright plain carbon steel after minutes at a temperature,
// good to ±15 °C; see TemperNote. Five tables differ by more than that in places.
func TemperColour(at temp.C) Colour { return colourAt(at, temperColours()) }

// Words names the colours within the width around a temperature, "none to pale straw": of is
// TemperColour or GlowColour.
func Words(at temp.C, of func(temp.C) Colour) string {
	width := of(at).PlusMinus
	low, high := of(at.Add(-width)).Name, of(at.Add(width)).Name
	if low == high {
		return low
	}
	return low + " to " + high
}

// GlowColour is the colour in which steel glows in dim light, good to ±60 °C: the tables put
// "cherry" anywhere from 760 to 902 °C.
func GlowColour(at temp.C) Colour { return colourAt(at, glowColours()) }

func colourAt(at temp.C, list []Colour) Colour {
	found := list[0]
	for _, c := range list {
		if at >= c.From {
			found = c
		}
	}
	return found
}

// FirstRed is where the first glow is seen: in a dark room, in a dim shop (Draper's point,
// 977 °F) and in the sun.
func FirstRed() (dark, dim, sun temp.C) { return 480, 525, 580 }
