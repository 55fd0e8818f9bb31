package tui

import (
	"fmt"

	"strawline/probe/temp"
)

// shade is the colour that bright steel shows from a temperature on.
type shade struct {
	from temp.C
	name string
	hex  string // how the strip paints it; our own choice
}

// temperShades are the oxide colours of bright plain carbon steel after a short heat (minutes).
// Source: the table "temper_c_short_heat" of testdata/screens/colours.json, which tells where
// it comes from; it ends here at 330 °C, above which no colour is shown.
var temperShades = [...]shade{
	{205, "faint straw", "#e3d9a5"}, {220, "pale straw", "#e8d27a"}, {240, "straw", "#d9b24a"},
	{255, "brown", "#a9672c"}, {270, "brown purple", "#8d4a4f"}, {285, "purple", "#7a4698"},
	{300, "dark blue", "#3a4fa3"}, {320, "blue", "#4a74b8"},
}

// glowShades are the colours that steel glows with in dim light. Source: the table
// "incandescent_dim_light_c" of the same file.
var glowShades = [...]shade{
	{480, "faint red, dark room only", "#4a0d0a"}, {550, "faint red", "#6a120d"},
	{650, "dark red", "#86170f"}, {730, "dull red", "#a31d12"}, {780, "cherry", "#c12616"},
	{840, "bright cherry", "#d93a1c"}, {900, "light cherry", "#e85526"},
	{980, "orange", "#f47a2e"}, {1080, "yellow orange", "#f99d3c"},
	{1180, "yellow", "#fdc555"}, {1280, "yellow white", "#ffe49a"}, {1320, "white", "#fff7e6"},
}

// Ends of the two tables and how far off a name may be, °C; the widths are those of the source.
const (
	temperEnd   temp.C     = 330
	glowStart   temp.C     = 480
	temperWidth temp.Delta = 15
	glowWidth   temp.Delta = 60
)

// steelColour gives the name of the colour that bright steel shows at c, what to say with it,
// and how to paint it; hex is "" where there is none.
func steelColour(c temp.C, u temp.Unit) (name, note, hex string) {
	within := func(d temp.Delta) string { return fmt.Sprintf("±%.0f %s", d.In(u), u) }
	switch {
	case c < temperShades[0].from.Add(-temperWidth):
		return "no colour yet", "by the air", ""
	case c < temperShades[0].from: // nearer than the table can tell
		s := temperShades[0]
		return s.name + " if any", "by the air, " + within(temperWidth) + " short heat", s.hex
	case c <= temperEnd:
		s := last(temperShades[:], c)
		return s.name, "by the air, " + within(temperWidth) + " short heat", s.hex
	case c < glowStart:
		return "no colour to go by", "by the air", ""
	}
	s := last(glowShades[:], c)
	return s.name, "by the air, " + within(glowWidth) + " dim light", s.hex
}

func last(table []shade, c temp.C) shade {
	found := table[0]
	for _, s := range table {
		if c >= s.from {
			found = s
		}
	}
	return found
}
