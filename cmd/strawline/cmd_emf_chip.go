package main

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"strawline/probe"
	"strawline/probe/temp"
	"strawline/probe/thermocouple"
)

// chipValue is the value of `emf --chip --json`. What is not known is absent; with a fault there
// is no temperature.
type chipValue struct {
	emfValue
	Chip        string   `json:"chip"`
	Word        string   `json:"word"`
	ChipC       *float64 `json:"chip_c,omitempty"` // what the chip itself calls the hot junction
	ColdAssumed bool     `json:"cold_assumed,omitempty"`
	Fault       string   `json:"fault"` // "" if there is none
}

// chipWord is a chip's word as a person gave it.
type chipWord struct {
	chip   thermocouple.Chip
	kind   thermocouple.Type
	text   string // the hexadecimal digits, large
	word   uint32
	digits int
	thermocouple.Measure
	coldWhere string // in a person's words where the cold junction is from; "" if it is unknown
	assumed   bool   // it is from nowhere
}

func (h *host) emfChip(f *emfFlags, t thermocouple.Type, args []string) error {
	switch {
	case f.word == "":
		return usage("--chip needs the chip's --word, such as --word 0x0C601900")
	case f.chip == "":
		return usage("--word needs its --chip: %s", chipList())
	case len(args) > 0:
		return usage("%q is too much: the word of a chip is read alone", args[0])
	}
	chip, err := chipOf(f.chip, t)
	if err != nil {
		return err
	}
	w := &chipWord{chip: chip, kind: t}
	if err := w.parse(f.word); err != nil {
		return err
	}
	if err := w.read(f); err != nil {
		return err
	}
	mV, known := w.across()
	if f.json {
		value := w.value(mV, known)
		if w.Fault == probe.FaultNone {
			value.Tolerances = f.tolerances(t, w.Hot)
		}
		return h.printJSON(struct {
			Values []chipValue `json:"values"`
		}{[]chipValue{value}})
	}
	text := w.sayText(mV, known)
	if w.Fault == probe.FaultNone {
		text += f.toleranceText(t, w.Hot)
	}
	return h.print(text)
}

func chipList() string {
	var names []string
	for _, c := range thermocouple.Chips() {
		names = append(names, string(c))
	}
	return strings.Join(names, ", ")
}

// chipOf finds the chip that a person names, with or without the type's letter behind it.
func chipOf(name string, t thermocouple.Type) (thermocouple.Chip, error) {
	large := strings.ToUpper(name)
	chip, of, full := thermocouple.SplitChip(large)
	if !full {
		chip, of = thermocouple.Chip(large), t
	}
	if !slices.Contains(thermocouple.Chips(), chip) {
		f := usage("--chip: no chip %q: there is %s", name, chipList())
		var names []string
		for _, c := range thermocouple.Chips() {
			names = append(names, string(c))
		}
		if near := nearest(name, names); near != "" {
			f.help = "did you mean " + near + "?"
		}
		return "", f
	}
	if of != t {
		return "", usage("--chip: the %s is made for type %s, not for type %s", large, of, t)
	}
	if !chip.Takes(t) {
		return "", usage("--chip: there is no %s for type %s", chip, t)
	}
	return chip, nil
}

// wordDigits says how many digits the word of a chip may have.
func wordDigits(c thermocouple.Chip) []int {
	switch c {
	case thermocouple.ChipMAX31855:
		return []int{8}
	case thermocouple.ChipMAX6675:
		return []int{4}
	case thermocouple.ChipMAX31856:
		return []int{6, 8}
	default:
		return []int{4, 8}
	}
}

// parse reads the hexadecimal digits, with or without 0x before them.
func (w *chipWord) parse(s string) error {
	digits := strings.TrimPrefix(strings.ToUpper(strings.TrimSpace(s)), "0X")
	if digits == "" || strings.Trim(digits, "0123456789ABCDEF") != "" {
		return usage("--word: %q is not a hexadecimal number: write it as 0x0C601900", s)
	}
	allowed := wordDigits(w.chip)
	if !slices.Contains(allowed, len(digits)) {
		var counts []string
		for _, n := range allowed {
			counts = append(counts, strconv.Itoa(n))
		}
		return usage("--word: %q has %d digits: a word of the %s has %s, zeros included", s,
			len(digits), w.chip, strings.Join(counts, " or "))
	}
	v, err := strconv.ParseUint(digits, 16, 32)
	if err != nil {
		return usage("--word: %q: %w", s, err)
	}
	w.text, w.word, w.digits = "0x"+digits, uint32(v), len(digits)
	return nil
}

// read finds what the word means, with --cold where the word does not say the cold junction.
func (w *chipWord) read(f *emfFlags) error {
	high, low := uint16(w.word>>16), uint16(w.word)
	given := f.cold.c
	switch w.chip {
	case thermocouple.ChipMAX31855:
		w.Measure = thermocouple.MAX31855(w.kind, w.word)
	case thermocouple.ChipMAX6675:
		if !f.cold.given {
			given = thermocouple.AssumedCold
		}
		w.Measure = thermocouple.MAX6675(low, given)
	case thermocouple.ChipMAX31856:
		if w.digits == 6 {
			w.Measure = thermocouple.MAX31856(w.kind, w.word, 0)
		} else {
			w.Measure = thermocouple.MAX31856(w.kind, w.word>>8, uint8(w.word))
		}
	case thermocouple.ChipMCP9600:
		if w.digits == 4 {
			w.Measure = thermocouple.HotMCP9600(w.kind, low, 0)
		} else {
			w.Measure = thermocouple.MCP9600(w.kind, high, low, 0)
		}
	case thermocouple.ChipADS1118:
		if w.digits == 8 {
			w.Measure = thermocouple.ADS1118(w.kind, high, low)
			break
		}
		if !f.cold.given {
			return usage("--cold is missing: four digits of the ADS1118 do not say the cold junction")
		}
		w.Measure = thermocouple.ADS1118At(w.kind, low, given)
	}
	if f.cold.given && w.saysCold() {
		return usage("--cold is too much: the word says the cold junction itself")
	}
	return w.settleCold(f.cold.given, given)
}

// saysCold tells whether a word of so many digits holds the cold junction.
func (w *chipWord) saysCold() bool {
	return w.digits == 8 && w.chip != thermocouple.ChipMAX31856
}

// settleCold takes the cold junction from where it is known.
func (w *chipWord) settleCold(isGiven bool, given temp.C) error {
	switch {
	case w.saysCold():
		w.coldWhere = "as the chip says it"
	case isGiven:
		if _, err := w.kind.EMF(given); err != nil {
			return coldFault(given, err)
		}
		w.Cold, w.coldWhere = given, "as --cold says it"
	case w.chip == thermocouple.ChipMAX6675:
		w.Cold, w.assumed = given, true
		w.coldWhere = "assumed, as this chip does not say it: --cold says another"
	}
	return nil
}

// across gives the emf between both junctions, if they are known.
func (w *chipWord) across() (mV float64, known bool) {
	if w.Fault != probe.FaultNone || w.coldWhere == "" {
		return 0, false
	}
	mV, err := w.kind.Across(w.Hot, w.Cold)
	return mV, err == nil
}

func (w *chipWord) value(mV float64, known bool) chipValue {
	v := chipValue{
		emfValue: emfValue{Type: w.kind.String()}, Chip: w.chip.Name(w.kind), Word: w.text,
		Fault: w.Fault.String(),
	}
	if w.Fault != probe.FaultNone {
		return v
	}
	v.TempC = rounded(float64(w.Hot), 3)
	if w.chip != thermocouple.ChipADS1118 { // which says no temperature of its own
		v.ChipC = rounded(float64(w.Own), 4)
	}
	if w.coldWhere != "" {
		v.ColdC = rounded(float64(w.Cold), 4)
		v.ColdAssumed = w.assumed
	}
	if known {
		v.EMFmV = rounded(mV, 4)
	}
	return v
}

// sayText says the hot junction, the cold one and the fault in words.
func (w *chipWord) sayText(mV float64, known bool) string {
	var text strings.Builder
	fmt.Fprintf(&text, "%s with type %s, word %s\n", w.chip, w.kind, w.text)
	if w.Fault != probe.FaultNone {
		fmt.Fprintf(&text, "fault  %s: the word gives no temperature\n", w.Fault)
		return text.String()
	}
	fmt.Fprintf(&text, "hot    %s", bothText(w.Hot))
	switch w.chip {
	case thermocouple.ChipMAX31855, thermocouple.ChipMAX6675:
		fmt.Fprintf(&text, "; on the chip's straight line %s", w.Own.Text(temp.Celsius, 2))
	case thermocouple.ChipADS1118:
		text.WriteString("; the chip says an emf only")
	default:
		text.WriteString("; as the chip says it")
	}
	if w.coldWhere == "" {
		text.WriteString("\ncold   not in this word\n")
	} else {
		fmt.Fprintf(&text, "\ncold   %s; %s\n", bothText(w.Cold), w.coldWhere)
	}
	if known {
		fmt.Fprintf(&text, "emf    %s between them\n", mVText(mV))
	}
	text.WriteString("fault  none\n")
	return text.String()
}
