package main

import (
	"fmt"
	"math"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"strawline/probe/temp"
	"strawline/probe/thermocouple"
)

// emfFlags are the options of `emf`.
type emfFlags struct {
	cold      tempValue
	chip      string
	word      string
	tolerance bool
	json      bool
}

func (f *emfFlags) register(fs *pflag.FlagSet) {
	fs.Var(&f.cold, "cold", "how warm the meter's terminals are, such as 25C (0C unless given)")
	fs.StringVar(&f.chip, "chip", "", "a thermocouple chip, such as MAX31855, whose --word to read")
	fs.StringVar(&f.word, "word", "", "the chip's word, hexadecimal: 0x0C601900")
	fs.BoolVar(&f.tolerance, "tolerance", false, "also what new wire of each class may be off by")
}

const emfLong = `Says the emf of each temperature and the temperature of each emf of a thermocouple,
for someone with a multimeter: type B, E, J, K, N, R, S or T by the ITS-90 reference
functions. A meter shows the emf between the hot junction and its own terminals;
--cold says how warm those are, and stands for 0 °C if it is not given.

  strawline emf K --cold 25C 7.138mV
  strawline emf K -100C 200C 1500F
  strawline emf K --chip MAX31855 --word 0x0C601900

Chips and the digits of their words: MAX31855 8; MAX6675 4 (it does not say its cold
junction: 25 °C unless --cold is given); MAX31856 6 (registers 0x0C to 0x0E) or 8 (to
0x0F); MCP9600 4 (register 0x00) or 8 (0x00 and 0x02); ADS1118 4 (the emf's result in
the ±0.256 V range, with --cold) or 8 (and the internal sensor's).`

func newEMF(h *host) *cobra.Command {
	var f emfFlags
	cmd := &cobra.Command{
		Use:   "emf TYPE VALUE...",
		Short: "turn a thermocouple's emf into its temperature, and back",
		Long:  emfLong,
		Args:  cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usage("the type is missing: K, or another of B, E, J, K, N, R, S, T")
			}
			t, err := thermocouple.ParseType(args[0])
			if err != nil {
				return usage("%w", err)
			}
			if cmd.Flags().Changed("chip") || cmd.Flags().Changed("word") {
				return h.emfChip(&f, t, args[1:])
			}
			return h.emfValues(&f, t, args[1:])
		},
	}
	f.register(cmd.Flags())
	addJSON(cmd, &f.json)
	return cmd
}

// emfValue is one value of `emf --json`: 4 decimals of mV, 3 of °C.
type emfValue struct {
	Type       string          `json:"type"`
	TempC      *float64        `json:"temp_c,omitempty"`
	EMFmV      *float64        `json:"emf_mv,omitempty"`
	ColdC      *float64        `json:"cold_c,omitempty"`
	Tolerances []toleranceLine `json:"tolerances,omitempty"`
}

// toleranceLine is what new wire of a class may be off by.
type toleranceLine struct {
	Class      string  `json:"class"`
	PlusMinusC float64 `json:"plus_minus_c"`
}

// rounded gives v with so many decimals and without a negative zero.
func rounded(v float64, decimals int) *float64 {
	scale := math.Pow10(decimals)
	v = math.Round(v*scale)/scale + 0
	return &v
}

// mVText writes an emf with the 3 decimals of the printed tables.
func mVText(v float64) string { return fmt.Sprintf("%.3f mV", *rounded(v, 3)) }

// bothText writes a temperature in both units.
func bothText(c temp.C) string {
	return c.Text(temp.Celsius, 2) + " (" + c.Text(temp.Fahrenheit, 2) + ")"
}

// emfPoint is a hot junction and what a meter shows of it.
type emfPoint struct {
	text  string // as the person wrote it
	isEMF bool
	hot   temp.C
	mV    float64
}

func (h *host) emfValues(f *emfFlags, t thermocouple.Type, args []string) error {
	if len(args) == 0 {
		return usage("say a temperature or an emf: 200C, 400F, 7.138mV or 7138uV")
	}
	if _, err := t.EMF(f.cold.c); err != nil {
		return coldFault(f.cold.c, err)
	}
	var points []emfPoint
	for _, arg := range args {
		p, err := pointOf(arg, t, f.cold.c)
		if err != nil {
			return err
		}
		points = append(points, p)
	}
	if f.json {
		answer := struct {
			Values []emfValue `json:"values"`
		}{}
		for _, p := range points {
			answer.Values = append(answer.Values, emfValue{
				Type: t.String(), TempC: rounded(float64(p.hot), 3), EMFmV: rounded(p.mV, 4),
				ColdC: rounded(float64(f.cold.c), 3), Tolerances: f.tolerances(t, p.hot),
			})
		}
		return h.printJSON(answer)
	}
	return h.print(emfText(f, t, points))
}

// coldFault is that of a cold junction for which the type has no emf.
func coldFault(cold temp.C, err error) error {
	return &fault{
		code: exitData, did: "take", to: "--cold " + cold.Text(temp.Celsius, 1), wrong: err,
	}
}

// pointOf reads a temperature or an emf and finds the other.
func pointOf(arg string, t thermocouple.Type, cold temp.C) (p emfPoint, err error) {
	p.text = arg
	if p.mV, p.isEMF, err = emfOf(arg); err != nil {
		return p, err
	}
	if p.isEMF {
		p.hot, err = t.Hot(p.mV, cold)
	} else {
		if p.hot, _, err = temp.Parse(arg); err != nil {
			return p, usage("%w", err)
		}
		p.mV, err = t.Across(p.hot, cold)
	}
	if err != nil {
		f := &fault{code: exitData, did: "convert", to: arg, wrong: err}
		if p.isEMF && cold != 0 {
			adds, _ := t.EMF(cold) // was good when --cold was looked at
			f.help = fmt.Sprintf("the cold junction at %s added %s", cold.Text(temp.Celsius, 2),
				mVText(adds))
		}
		return p, f
	}
	return p, nil
}

// emfUnits are what an emf may end with, in small letters, and how many mV each is; the micro
// sign and the Greek letter are two characters.
var emfUnits = []struct {
	suffix string
	mV     float64
}{{"mv", 1}, {"uv", 1e-3}, {"\u00b5v", 1e-3}, {"\u03bcv", 1e-3}}

// emfOf reads an emf with its unit and gives mV; is is false for what ends like a temperature.
func emfOf(s string) (mV float64, is bool, err error) {
	small := strings.ToLower(strings.TrimSpace(s))
	for _, u := range emfUnits {
		number, found := strings.CutSuffix(small, u.suffix)
		if !found {
			continue
		}
		if mV, err = finite(strings.TrimSpace(number)); err != nil {
			return 0, true, usage("%q is not a number with a unit: write it as 7.138mV or 7138uV", s)
		}
		return mV * u.mV, true, nil
	}
	if strings.HasSuffix(small, "c") || strings.HasSuffix(small, "f") {
		return 0, false, nil
	}
	return 0, false, usage("%q has no unit: write it as 200C, 400F, 7.138mV or 7138uV", s)
}

func emfText(f *emfFlags, t thermocouple.Type, points []emfPoint) string {
	var text strings.Builder
	if f.cold.given {
		fmt.Fprintf(&text, "type %s, cold junction %s\n", t, bothText(f.cold.c))
	} else {
		fmt.Fprintf(&text, "type %s, cold junction taken as 0 °C: --cold says another\n", t)
	}
	width := 0
	for _, p := range points {
		width = max(width, len([]rune(p.text)))
	}
	for _, p := range points {
		said := mVText(p.mV)
		if p.isEMF {
			said = bothText(p.hot)
		}
		fmt.Fprintf(&text, "%*s  is  %s\n", width, p.text, said)
		text.WriteString(f.toleranceText(t, p.hot))
	}
	return text.String()
}

// tolerances gives the classes that have one at a temperature, none unless asked for.
func (f *emfFlags) tolerances(t thermocouple.Type, at temp.C) []toleranceLine {
	var lines []toleranceLine
	for _, c := range thermocouple.Classes() {
		d, err := t.Tolerance(c, at)
		if f.tolerance && err == nil { // an error only says that the class has none here
			lines = append(lines, toleranceLine{c.String(), *rounded(float64(d), 3)})
		}
	}
	return lines
}

func (f *emfFlags) toleranceText(t thermocouple.Type, at temp.C) string {
	if !f.tolerance {
		return ""
	}
	lines := f.tolerances(t, at)
	if len(lines) == 0 {
		return "    no class has a tolerance at " + at.Text(temp.Celsius, 2) + "\n"
	}
	var text strings.Builder
	for _, l := range lines {
		d := temp.Delta(l.PlusMinusC)
		fmt.Fprintf(&text, "    ±%.1f °C (±%.1f °F)  %s\n", float64(d), d.F(), l.Class)
	}
	text.WriteString("    for new wire; from makers' copies of the standards\n")
	return text.String()
}
