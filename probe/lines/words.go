package lines

import (
	"slices"
	"strings"
	"unicode"
)

// gaps cuts a kind of line at its numbers: the texts before, between and behind them.
func gaps(text string) []string {
	var out []string
	var b strings.Builder
	for i := 0; i < len(text); i++ {
		switch {
		case text[i] == '\\' && i+1 < len(text):
			i++
			b.WriteByte(text[i])
		case text[i] != '#':
			b.WriteByte(text[i])
		default:
			out = append(out, b.String())
			b.Reset()
		}
	}
	return append(out, b.String())
}

// naming is what the words around a number say of it.
type naming struct {
	label string   // the words before it, lower case
	words []string // the same, parted, without a unit
	unit  Unit
	other bool // the unit is not one of temperature
	time  bool // the unit is one of time
}

// names reads the words around each number of a kind of line.
func names(text string) []naming {
	g := gaps(text)
	out := make([]naming, len(g)-1)
	for i := range out {
		before := g[i]
		if i > 0 {
			_, before = unitBehind(before)
		}
		out[i] = nameOf(before)
		behind, _ := unitBehind(g[i+1])
		out[i].take(behind)
	}
	return out
}

// take takes a unit word that stands behind the number; it outweighs one in the label.
func (n *naming) take(unit string) {
	if unit == "" {
		return
	}
	n.unit, n.other, n.time = unitOf(unit)
}

// unitBehind parts the text behind a number into a unit word, if it begins with one, and the
// rest, which belongs to the next number. "C: " is no unit but the next one's name.
func unitBehind(text string) (unit, rest string) {
	t := strings.TrimLeft(text, " \"'([*§°")
	word := t[:len(t)-len(strings.TrimLeftFunc(t, func(r rune) bool {
		return unicode.IsLetter(r) || r == '%'
	}))]
	rest = strings.TrimLeft(t[len(word):], " \"')]°")
	if strings.HasPrefix(rest, ":") || strings.HasPrefix(rest, "=") {
		return "", text
	}
	if low := strings.ToLower(word); low == "deg" || low == "degree" || low == "degrees" {
		return unitBehind(t[len(word):])
	}
	if u, other, _ := unitOf(word); u == NoUnit && !other {
		return "", text
	}
	return word, rest
}

// unitOf reads a unit word.
func unitOf(word string) (u Unit, other, time bool) {
	switch strings.ToLower(word) {
	case "c", "degc", "celsius", "centigrade", "cel", "grad":
		return Celsius, false, false
	case "f", "degf", "fahrenheit":
		return Fahrenheit, false, false
	case "kelvin", "degk":
		return Kelvin, false, false
	case "k":
		return Kelvin, false, false
	case "ms", "s", "sec", "secs", "second", "seconds", "msec", "min", "us", "millis":
		return NoUnit, true, true
	case "v", "mv", "uv", "µv", "a", "ma", "w", "kw", "%", "hz", "rpm", "hpa", "pa", "mbar",
		"ohm", "ohms", "ppm", "db", "dbm", "lx", "lux", "bytes", "bits", "counts", "mm", "g":
		return NoUnit, true, false
	}
	return NoUnit, false, false
}

// nameOf reads the words before a number, or the cell of a header.
func nameOf(label string) naming {
	var n naming
	for _, w := range split(label) {
		n.words = append(n.words, w)
	}
	for len(n.words) > 0 {
		last := n.words[len(n.words)-1]
		u, other, time := unitOf(last)
		alone := len(n.words) == 1
		if last == "deg" || last == "degrees" {
			n.words = n.words[:len(n.words)-1]
			continue
		}
		if u == NoUnit && !other || n.unit != NoUnit || n.other || u == Kelvin && len(last) == 1 {
			break
		}
		if other && alone && len(last) == 1 {
			break
		}
		n.unit, n.other, n.time = u, other, time
		n.words = n.words[:len(n.words)-1]
	}
	n.label = strings.Join(n.words, " ")
	return n
}

// split parts a label into lower-case words: at anything but letters and digits, and where a
// capital C or F follows a small letter ("ovenC").
func split(label string) []string {
	parts := strings.FieldsFunc(label, func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r)
	})
	var out []string
	for _, p := range parts {
		n := len(p)
		if n > 2 && (p[n-1] == 'C' || p[n-1] == 'F') && p[n-2] >= 'a' && p[n-2] <= 'z' {
			out = append(out, strings.ToLower(p[:n-1]), strings.ToLower(p[n-1:]))
			continue
		}
		out = append(out, strings.ToLower(p))
	}
	return out
}

// guess is what a label says of a number's role.
type guess uint8

const (
	unknown  guess = iota // words that we do not know
	noLabel               // no words
	hotWord               // a probe
	placeHot              // a probe, by a word that names nothing else
	coldWord              // a cold junction
	tickWord              // a count or clock
	faultWord
	rawWord
	skipWord
)

// guess reads the label. The strongest word decides: a "set temp" is a setpoint, an "internal
// temp" a cold junction.
func (n naming) guess() guess {
	best := unknown
	for _, w := range n.words {
		best = max(best, guessOf(strings.TrimRight(w, "0123456789")))
	}
	switch {
	case n.time && best < coldWord:
		return tickWord
	case n.other:
		return skipWord
	case len(n.words) == 0:
		return noLabel
	case best == coldWord && slices.Contains(n.words, "hot"):
		return placeHot
	}
	return best
}

func guessOf(w string) guess {
	switch w {
	case "t", "temp", "temps", "temperature", "temperatur", "temperatura", "ch", "channel",
		"sensor", "celsius", "fahrenheit", "value", "reading", "junction":
		return hotWord
	case "hot", "tc", "thermocouple", "oven", "kiln", "forge", "furnace", "probe", "blade",
		"oil", "ofen", "horno", "four", "therm", "quench", "salt", "bath":
		return placeHot
	case "cj", "cold", "internal", "int", "intern", "ambient", "amb", "ambiente", "ambiante",
		"chip", "board", "ref", "reference", "room", "die", "local", "umgebung", "raum",
		"kaltstelle", "case", "cjc", "cjt", "env", "tamb", "tint":
		return coldWord
	case "ms", "millis", "time", "sec", "secs", "seconds", "tick", "ticks", "uptime", "zeit",
		"count", "counter", "n", "i", "seq", "sample", "index", "nr", "no", "timestamp", "ts",
		"tiempo", "loop":
		return tickWord
	case "fault", "faults", "err", "error", "errors", "status", "state", "alarm":
		return faultWord
	case "raw", "hex", "word", "reg", "register", "data", "spi":
		return rawWord
	case "set", "setpoint", "sp", "target", "soll", "goal", "consigna", "delta", "diff", "dt",
		"duty", "power", "pwm", "out", "output", "pid", "kp", "ki", "kd", "ti", "td", "volt",
		"volts", "voltage", "bat", "battery", "rssi", "hum", "humidity", "pressure", "adc", "mv",
		"average", "avg", "mean", "min", "max", "high", "low", "limit", "peak", "heater", "relay",
		"slope", "rate", "gain", "version", "free", "heap", "emf":
		return skipWord
	}
	return unknown
}
