package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// emf runs the command with arguments that blanks separate.
func emf(args string) (out, bad string, code int) {
	var o, b bytes.Buffer
	code = run(context.Background(), append([]string{"emf"}, strings.Fields(args)...), nil, &o, &b,
		nil)
	return o.String(), b.String(), code
}

// emfJSON gives the values that the command answers.
func emfJSON(t require.TestingT, args string) []map[string]any {
	out, bad, code := emf(args + " --json")
	require.Equal(t, exitOK, code, bad)
	require.Empty(t, bad)
	require.Equal(t, 1, strings.Count(out, "\n"))
	var answer map[string][]map[string]any
	require.NoError(t, json.Unmarshal([]byte(out), &answer))
	require.Len(t, answer, 1)
	return answer["values"]
}

// The emfs are those of the printed NIST tables, which have three decimals.
func TestEMFValues(t *testing.T) {
	values := emfJSON(t, "K -100C 200C 800C 8.138mV -3554uV 0C")
	want := []struct{ c, mV float64 }{
		{-100, -3.554}, {200, 8.138}, {800, 33.275}, {200, 8.138}, {-100, -3.554}, {0, 0},
	}
	require.Len(t, values, len(want))
	for i, w := range want {
		assert.ElementsMatch(t, []string{"type", "temp_c", "emf_mv", "cold_c"}, keysOf(values[i]))
		assert.Equal(t, "K", values[i]["type"])
		assert.InDelta(t, w.c, values[i]["temp_c"], 0.02)
		assert.InDelta(t, w.mV, values[i]["emf_mv"], 0.00051)
		assert.Equal(t, 0.0, values[i]["cold_c"])
	}
	assert.Equal(t, 8.138, values[3]["emf_mv"], "as it was given")
	assert.Equal(t, -100.0, values[0]["temp_c"], "as it was given")
	for _, key := range []string{"temp_c", "emf_mv"} {
		v := emfJSON(t, "E -0.00001C")[0][key].(float64)
		assert.Zero(t, v)
		assert.False(t, math.Signbit(v), "no -0")
	}

	// 8.138 mV less the 1.000 mV of 25 °C.
	for _, args := range []string{
		"K --cold 25C 7.138mV", "k 7138uV --cold 77F", "K --cold=25C 7138µV", "K 7138μV --cold 25C",
		"K 7.138mv --cold 25C", "--cold 25C K +7138UV",
	} {
		v := emfJSON(t, args)
		assert.InDelta(t, 200, v[0]["temp_c"], 0.02, args)
		assert.InDelta(t, 7.138, v[0]["emf_mv"], 1e-9, args)
		assert.InDelta(t, 25, v[0]["cold_c"], 1e-9, args)
	}
	assert.InDelta(t, 7.138, emfJSON(t, "K --cold 25C 392F")[0]["emf_mv"], 0.001)
	assert.InDelta(t, -0.65, emfJSON(t, "K --cold -10C -26.8C")[0]["emf_mv"], 0.02)
}

func TestEMFText(t *testing.T) {
	out, bad, code := emf("S 1000C 9.587mV")
	assert.Equal(t, exitOK, code)
	assert.Empty(t, bad)
	assert.Contains(t, out, "type S, cold junction taken as 0 °C: --cold says another\n")
	assert.Contains(t, out, "  1000C  is  9.587 mV\n") // the printed table
	assert.Regexp(t, `9\.587mV  is  (1000\.0\d|999\.9\d) °C \(183\d\.\d\d °F\)\n`, out)
	assert.NotContains(t, out, "±")

	out, _, _ = emf("K --cold 25C 200C --tolerance")
	assert.Contains(t, out, "type K, cold junction 25.00 °C (77.00 °F)\n")
	for _, line := range []string{ // of both standards at 200 °C
		"±2.2 °C (±4.0 °F)  ASTM E230 standard", "±1.1 °C (±2.0 °F)  ASTM E230 special",
		"±1.5 °C (±2.7 °F)  IEC 60584-1 class 1", "±2.5 °C (±4.5 °F)  IEC 60584-1 class 2",
		"for new wire; from makers' copies of the standards",
	} {
		assert.Contains(t, out, line+"\n")
	}
	assert.NotContains(t, out, "class 3")
	out, _, _ = emf("B 10C --tolerance")
	assert.Contains(t, out, "no class has a tolerance at 10.00 °C\n")
	lines := emfJSON(t, "K 815C --tolerance")[0]["tolerances"].([]any)
	assert.Equal(t, map[string]any{"class": "ASTM E230 standard", "plus_minus_c": 6.113}, lines[0])
	assert.Len(t, lines, 4)
}

// What one way gives, the other takes back, with any cold junction: 3 decimals of °C and 4 of mV
// are kept.
func TestEMFBothWays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.Float64Range(-150, 1300).Draw(t, "c")
		cold := rapid.Float64Range(-20, 60).Draw(t, "cold")
		there := emfJSON(t, fmt.Sprintf("N --cold %.3fC %.3fC", cold, c))[0]
		back := emfJSON(t, fmt.Sprintf("N --cold %.3fC %.4fmV", cold, there["emf_mv"]))[0]
		// Half a digit of emf at the flattest slope, 0.015 mV/°C, and the digits of °C.
		require.InDelta(t, c, back["temp_c"], 0.00005/0.015+0.0011)
	})
}

// Words and figures are those of the thermocouple package's own tests.
func TestEMFChip(t *testing.T) {
	for _, c := range []struct {
		args, chip, fault     string
		hot, cold, own        float64 // NaN: absent
		assumed, withoutAnEMF bool
	}{
		{args: "K --chip MAX31855 --word 0x0C601900", chip: "MAX31855K", hot: 200.06, cold: 25, own: 198},
		{args: "k --chip max31855k --word 0c601900", chip: "MAX31855K", hot: 200.06, cold: 25, own: 198},
		{args: "K --chip MAX31855 --word FAAC1900", chip: "MAX31855K", hot: -99.9, cold: 25, own: -85.25},
		{args: "K --chip MAX31855 --word 0x00011881", chip: "MAX31855K", fault: "open"},
		{args: "K --chip MAX31855 --word 0x00011882", chip: "MAX31855K", fault: "short to ground"},
		{args: "K --chip MAX31855 --word 0x00011884", chip: "MAX31855K", fault: "short to supply"},
		{args: "K --chip MAX31855 --word 0x00000000", chip: "MAX31855K", fault: "no chip"},
		{args: "K --chip MAX31855 --word 0xFFFFFFFF", chip: "MAX31855K", fault: "no chip"},
		{args: "K --chip MAX31855 --word 0x7FFCFFF0", chip: "MAX31855K", fault: "out of range"},
		{args: "K --chip MAX31855 --word 0x0C607FF0", chip: "MAX31855K", fault: "cold junction out of range"},
		{args: "K --chip MAX6675 --word 18E0", chip: "MAX6675", hot: 199.89, cold: 25, own: 199, assumed: true},
		{args: "K --chip MAX6675 --word 18E0 --cold 25C", chip: "MAX6675", hot: 199.89, cold: 25, own: 199},
		{args: "K --chip MAX6675 --word 0324", chip: "MAX6675", fault: "open"},
		{args: "K --chip MAX31856 --word 064F00", chip: "MAX31856K", hot: 100.938, cold: math.NaN(),
			own: 100.9375, withoutAnEMF: true},
		{args: "K --chip MAX31856 --word 064F0001", chip: "MAX31856K", fault: "open"},
		{args: "K --chip MAX31856 --word 064F0000 --cold 20C", chip: "MAX31856K", hot: 100.938, cold: 20,
			own: 100.9375},
		{args: "S --chip MCP9600 --word 0C80", chip: "MCP9600S", hot: 200, cold: math.NaN(), own: 200,
			withoutAnEMF: true},
		{args: "S --chip MCP9600 --word 0C800190", chip: "MCP9600S", hot: 200, cold: 25, own: 200},
		{args: "K --chip ADS1118 --word 03920C80", chip: "ADS1118K", hot: 200.06, cold: 25, own: math.NaN()},
		{args: "K --chip ADS1118 --word 0392 --cold 25C", chip: "ADS1118K", hot: 200.06, cold: 25,
			own: math.NaN()},
	} {
		v := emfJSON(t, c.args)
		require.Len(t, v, 1, c.args)
		assert.Equal(t, c.chip, v[0]["chip"], c.args)
		assert.Equal(t, c.fault, v[0]["fault"], c.args)
		assert.True(t, strings.HasPrefix(v[0]["word"].(string), "0x"))
		if c.fault != "" {
			assert.ElementsMatch(t, []string{"type", "chip", "word", "fault"}, keysOf(v[0]), c.args)
			out, _, _ := emf(c.args)
			assert.Contains(t, out, "fault  "+c.fault+": the word gives no temperature\n")
			continue
		}
		assert.InDelta(t, c.hot, v[0]["temp_c"], 0.0055, c.args)
		for key, want := range map[string]float64{"cold_c": c.cold, "chip_c": c.own} {
			if math.IsNaN(want) {
				assert.NotContains(t, v[0], key, c.args)
			} else {
				assert.InDelta(t, want, v[0][key], 1e-9, c.args)
			}
		}
		assert.Equal(t, c.assumed, v[0]["cold_assumed"] == true, c.args)
		assert.Equal(t, !c.withoutAnEMF, v[0]["emf_mv"] != nil, c.args)
	}
	assert.InDelta(t, 7.1407, emfJSON(t, "K --chip MAX31855 --word 0C601900")[0]["emf_mv"], 0.0001)
}

func TestEMFChipText(t *testing.T) {
	out, bad, code := emf("K --chip MAX31855 --word 0x0C601900 --tolerance")
	assert.Equal(t, exitOK, code)
	assert.Empty(t, bad)
	assert.Contains(t, out, "MAX31855 with type K, word 0x0C601900\n")
	assert.Contains(t, out, "200.06 °C (392.11 °F); on the chip's straight line 198.00 °C\n")
	assert.Contains(t, out, "cold   25.00 °C (77.00 °F); as the chip says it\n")
	assert.Contains(t, out, "emf    7.141 mV between them\n")
	assert.Contains(t, out, "fault  none\n")
	assert.Contains(t, out, "±2.2 °C")
	out, _, _ = emf("K --chip MAX6675 --word 18E0")
	assert.Contains(t, out, "assumed, as this chip does not say it: --cold says another\n")
	out, _, _ = emf("K --chip MAX6675 --word 18E0 --cold 30C")
	assert.Contains(t, out, "cold   30.00 °C (86.00 °F); as --cold says it\n")
	out, _, _ = emf("K --chip MAX31856 --word 064F00")
	assert.Contains(t, out, "cold   not in this word\n")
	assert.NotContains(t, out, "emf")
	out, _, _ = emf("K --chip ADS1118 --word 03920C80")
	assert.Contains(t, out, "; the chip says an emf only\n")
}

func TestEMFBadInput(t *testing.T) {
	for _, c := range []struct {
		args string
		code int
		want string
	}{
		{"", exitUsage, "the type is missing: K, or another of B, E, J, K, N, R, S, T"},
		{"X 1C", exitUsage, `no thermocouple type "X": there is B, E, J, K, N, R, S, T`},
		{"-100C K", exitUsage, `no thermocouple type "-100C"`},
		{"K", exitUsage, "say a temperature or an emf: 200C, 400F, 7.138mV or 7138uV"},
		{"K 200", exitUsage, `"200" has no unit: write it as 200C, 400F, 7.138mV or 7138uV`},
		{"K 200C 7.138", exitUsage, `"7.138" has no unit`},
		{"K 7.138V", exitUsage, `"7.138V" has no unit`},
		{"K 7,138mV", exitUsage, `"7,138mV" is not a number with a unit: write it as 7.138mV`},
		{"K mV", exitUsage, `"mV" is not a number`},
		{"K nanmV", exitUsage, `"nanmV" is not a number`},
		{"K infuV", exitUsage, `"infuV" is not a number`},
		{"K hotC", exitUsage, `"hotC" is not a number with a unit`},
		{"K -300C", exitUsage, `"-300C" is below absolute zero`},
		{"K --cold 25 7.138mV", exitUsage, `--cold: "25" has no unit`},
		{"K -271C", exitData, "convert -271C: type K has no emf at -271 °C: its function goes " +
			"from -270 to 1372 °C"},
		{"K 200C 1373C", exitData, "convert 1373C: type K has no emf at 1373 °C"},
		{"K 60mV", exitData, "convert 60mV: type K has no temperature at 60 mV: its inverse goes " +
			"from -6.4577 to 54.8864 mV, -270 to 1372 °C"},
		{"K --cold 25C 54.5mV", exitData, "the cold junction at 25.00 °C added 1.000 mV"},
		{"B 0.001mV", exitData, "from 0.0023 to 13.8203 mV, 50 to 1820 °C"},
		{"B --cold -5C 1mV", exitData, "take --cold -5.0 °C: type B has no emf at -5 °C"},
		{"K --word 0C601900", exitUsage, "--word needs its --chip: MAX31855, MAX6675, MAX31856"},
		{"K --chip MAX31855", exitUsage, "--chip needs the chip's --word"},
		{"K --chip= --word 0C601900", exitUsage, "--word needs its --chip"},
		{"K --chip MAX31855 --word=", exitUsage, "--chip needs the chip's --word"},
		{"K 20C --chip MAX31855 --word 0C601900", exitUsage, `"20C" is too much`},
		{"K --chip MAX31865 --word 1", exitUsage,
			`no chip "MAX31865": there is MAX31855, MAX6675, MAX31856, MCP9600, ADS1118; did you mean`},
		{"K --chip thermometer --word 1", exitUsage, `no chip "thermometer": there is MAX31855`},
		{"N --chip MAX6675 --word 18E0", exitUsage, "the MAX6675 is made for type K, not for type N"},
		{"N --chip MAX31855K --word 0C601900", exitUsage, "made for type K, not for type N"},
		{"B --chip MAX31855 --word 0C601900", exitUsage, "there is no MAX31855 for type B"},
		{"K --chip MAX31855 --word 0xC60190G", exitUsage, "is not a hexadecimal number: write it as"},
		{"K --chip MAX31855 --word -1", exitUsage, "is not a hexadecimal number"},
		{"K --chip MAX31855 --word 0x", exitUsage, "is not a hexadecimal number"},
		{"K --chip MAX31855 --word 0xC601900", exitUsage,
			`"0xC601900" has 7 digits: a word of the MAX31855 has 8, zeros included`},
		{"K --chip MAX31856 --word 0C80", exitUsage, "has 6 or 8, zeros included"},
		{"K --chip MAX6675 --word 000018E0", exitUsage, "has 4, zeros included"},
		{"K --chip ADS1118 --word 0392", exitUsage, "--cold is missing: four digits of the ADS1118"},
		{"K --chip MAX31855 --word 0C601900 --cold 25C", exitUsage,
			"--cold is too much: the word says the cold junction itself"},
		{"B --chip MAX31856 --word 640000 --cold -5C", exitData,
			"take --cold -5.0 °C: type B has no emf at -5 °C"},
	} {
		for _, form := range []string{"", " --json"} {
			out, bad, code := emf(c.args + form)
			assert.Equal(t, c.code, code, c.args)
			assert.Empty(t, out, c.args)
			assert.Contains(t, bad, c.want, c.args)
			assert.True(t, strings.HasPrefix(bad, "strawline: emf: "), bad)
			assert.Equal(t, 1, strings.Count(bad, "\n"), bad)
		}
	}
}
