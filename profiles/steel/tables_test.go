package steel

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe/temp"
)

// TestTablesAreTheFigures runs the generator again: tables.go is what testdata says.
func TestTablesAreTheFigures(t *testing.T) {
	want, err := exec.CommandContext(t.Context(), "go", "run", "gen.go", "-stdout").Output()
	require.NoError(t, err)
	got, err := os.ReadFile("tables.go")
	require.NoError(t, err)
	lines, made := strings.Split(string(got), "\n"), strings.Split(string(want), "\n")
	require.Len(t, lines, len(made), "run go generate")
	for i := range lines {
		require.Equal(t, made[i], lines[i], "line %d: run go generate", i+1)
	}
}

// TestFiguresOfTheFile reads the file apart from the generator and looks at each temperature,
// range and provenance.
func TestFiguresOfTheFile(t *testing.T) {
	type figure struct {
		V         json.RawMessage
		Range     []float64
		Src, Prov string
	}
	var file struct {
		Sources map[string]string
		Steels  []map[string]json.RawMessage
	}
	readJSON(t, "steels.json", &file)
	steels := List()
	require.Len(t, steels, len(file.Steels))
	figures := 0
	for i, entry := range file.Steels {
		s := steels[i]
		var name string
		require.NoError(t, json.Unmarshal(entry["name"], &name))
		require.Equal(t, name, s.Name)
		temps := map[string]Temps{
			"normalise_c": s.Normalise, "austenitise_c": s.Harden, "preheat_c": s.Preheat,
			"temper_c": s.Temper, "ms_measured_c": s.MsMeasured, "ac1_c": s.Ac1,
		}
		ranges := map[string]Range{"soak_min": s.Soak, "as_quenched_hrc": s.AsQuenched}
		origins := map[string]Origin{"composition": s.Makeup.Origin, "quench": s.Quench.Origin,
			"hrc_2h": s.Sheet.Origin, "normalise_shop_c": s.Cycle.Origin}
		for key, raw := range entry {
			if key == "name" {
				continue
			}
			figures++
			var f figure
			if key == "composition" { // its ranges are compared element by element in a test of their own
				raw = withoutRange(t, raw)
			}
			require.NoError(t, json.Unmarshal(raw, &f))
			origin := origins[key]
			var one float64
			var two [2]float64
			if at, is := temps[key]; is {
				origin = at.Origin
				if json.Unmarshal(f.V, &one) == nil {
					assert.Equal(t, temp.C(one), at.At, name+key)
				} else {
					require.NoError(t, json.Unmarshal(f.V, &f.Range))
				}
				if len(f.Range) == 2 {
					assert.Equal(t, []float64{float64(at.Low), float64(at.High)}, f.Range, name+key)
				}
			}
			if r, is := ranges[key]; is {
				origin = r.Origin
				require.NoError(t, json.Unmarshal(f.V, &two))
				assert.Equal(t, two, [2]float64{r.Low, r.High}, name+key)
			}
			assert.Equal(t, file.Sources[f.Src], origin.Source, name+key)
			assert.NotEmpty(t, origin.Source, name+key)
			assert.Equal(t, strings.HasPrefix(f.Prov, "READ") || strings.Contains(f.Prov, "/READ"),
				strings.HasPrefix(origin.Provenance, "read"), name+key)
			assert.Equal(t, strings.HasPrefix(f.Prov, "RECALL") || strings.Contains(f.Prov, "/RECALL"),
				strings.HasSuffix(origin.Provenance, "from memory"), name+key)
		}
	}
	assert.Equal(t, 117, figures)
}

// withoutRange drops a composition's table of ranges.
func withoutRange(t *testing.T, raw json.RawMessage) json.RawMessage {
	var m map[string]json.RawMessage
	require.NoError(t, json.Unmarshal(raw, &m))
	delete(m, "range")
	raw, err := json.Marshal(m)
	require.NoError(t, err)
	return raw
}

// TestCompositions compares each element of each steel.
func TestCompositions(t *testing.T) {
	var file struct {
		Steels []struct {
			Name        string
			Composition struct {
				Typical map[string]float64
				Range   map[string][2]float64
			}
		}
	}
	readJSON(t, "steels.json", &file)
	for _, entry := range file.Steels {
		s, is := Find(entry.Name, nil)
		require.True(t, is)
		typical, least, most := Composition{}, Composition{}, Composition{}
		for e, p := range entry.Composition.Typical {
			*element(t, &typical, e) = p
		}
		for e, p := range entry.Composition.Range {
			*element(t, &least, e), *element(t, &most, e) = p[0], p[1]
		}
		assert.Equal(t, typical, s.Makeup.Typical, entry.Name)
		assert.Equal(t, least, s.Makeup.Least, entry.Name)
		assert.Equal(t, most, s.Makeup.Most, entry.Name)
	}
}

func element(t *testing.T, c *Composition, name string) *float64 {
	at, is := map[string]*float64{"C": &c.C, "Mn": &c.Mn, "Si": &c.Si, "Cr": &c.Cr, "Ni": &c.Ni,
		"Mo": &c.Mo, "V": &c.V, "W": &c.W}[name]
	require.True(t, is, name)
	return at
}

// TestEverySteelIsThere: those that fit a forge and those that do not.
func TestEverySteelIsThere(t *testing.T) {
	fit := strings.Fields("1075 1080 1084 1095 5160 52100 15N20 80CrV2 O1 W1 W2 L6 4140")
	unfit := strings.Fields("A2 D2 440C AEB-L")
	require.Len(t, List(), len(fit)+len(unfit))
	for _, name := range fit {
		s, is := Find(strings.ToLower(name), nil)
		require.True(t, is, name)
		assert.Empty(t, s.Unfit(), name)
		for _, known := range []bool{s.Normalise.Known(), s.Harden.Known(), s.Temper.Known(),
			s.AsQuenched.Known(), s.Quench.Medium != "", s.Quench.Class != "",
			s.Makeup.Most.C > 0, s.Makeup.Typical.C > 0} {
			assert.True(t, known, name)
		}
		assert.GreaterOrEqual(t, s.Makeup.Typical.C, s.Makeup.Least.C, name)
		assert.LessOrEqual(t, s.Makeup.Typical.C, s.Makeup.Most.C, name)
		_, err := s.Curve()
		assert.NoError(t, err, name)
	}
	for _, name := range unfit {
		s, is := Find(name, nil)
		require.True(t, is, name)
		assert.Contains(t, s.Unfit(), "a forge and an oil tank do not fit "+name)
		_, err := s.Curve()
		assert.Error(t, err, name)
	}
	_, is := Find("1O84", nil)
	assert.False(t, is)
}

func TestListIsFresh(t *testing.T) {
	List()[0].Cycle.At[0] = 1
	assert.NotEqual(t, temp.C(1), List()[0].Cycle.At[0])
}

// TestSheetsAreTheMean: the tables of O1 and L6 are the mean of the sheets that print them, which
// differ by at most 1 HRC to either side.
func TestSheetsAreTheMean(t *testing.T) {
	f, err := os.Open(shelf + "temper_hardness.csv")
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	require.NoError(t, err)
	require.Equal(t, []string{"steel", "temper_f", "hrc", "provenance"},
		[]string{rows[0][0], rows[0][3], rows[0][5], rows[0][7]})
	for _, name := range []string{"O1", "L6"} {
		s, _ := Find(name, nil)
		for _, p := range s.Sheet.Points {
			var sum, n float64
			for _, row := range rows[1:] {
				at, hrc := number(t, row[3]), number(t, row[5])
				if row[0] != name || math.Abs(at-p.At.F()) > 0.1 ||
					strings.Contains(row[7], "second-hand") {
					continue
				}
				sum, n = sum+hrc, n+1
				assert.InDelta(t, p.HRC, hrc, 1.0001, "%s %g", name, at)
			}
			require.GreaterOrEqual(t, n, 2.0)
			assert.InDelta(t, sum/n, p.HRC, 0.051, "%s %.0f", name, p.At.F())
		}
	}
}

func TestStandInsSaySo(t *testing.T) {
	for name, says := range map[string]string{
		"15N20":  "no measurements of this steel; 1075's curve stands in",
		"80CrV2": "no measurements of this steel; 1080's curve stands in",
		"5160":   "sources disagree", "52100": "sources disagree", "4140": "laboratories disagree",
		"O1": "nobody checked", "1084": "",
	} {
		s, _ := Find(name, nil)
		c, err := s.Curve()
		require.NoError(t, err)
		assert.Contains(t, c.Note, says)
		assert.NotEmpty(t, c.Of)
	}
	assert.Equal(t, "from memory; the book; low confidence",
		Origin{Source: "the book", Provenance: "from memory", Confidence: "low"}.String())
}
