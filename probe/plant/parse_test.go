package plant

import (
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"
	"github.com/stretchr/testify/require"
)

func TestParseGood(t *testing.T) {
	file, err := os.ReadFile(filepath.Join("..", "..", "testdata", "plant", "oven-b.toml"))
	require.NoError(t, err)
	wide := B()
	wide.HeaterW = 2000
	wide.Room = 5
	wide.Blade.Mass = 0.1
	for text, want := range map[string]Params{
		"":                A(),
		`like = "A"`:      A(),
		`like = "B"`:      B(),
		string(file):      B(),
		"heater_w = 1400": A(),
		"like = 'B'\nheater_w = 2e3\nroom_c = 5\n[blade]\nmass_kg = 0.1":     wide,
		"like = 'B'\nheater_w = 2000\nroom_c = 5.0\nblade = {mass_kg = 0.1}": wide,
		"like = 'B'\nheater_w = 2_000\nroom_c = 5.0\nblade.mass_kg = 0.1":    wide,
	} {
		p, err := Parse([]byte(text))
		require.NoError(t, err, text)
		require.Equal(t, want, p, text)
	}
}

// What is written of an oven and read back is the same oven: no field lacks its key.
func TestParseReadsEveryField(t *testing.T) {
	p := B()
	v := reflect.ValueOf(&p).Elem()
	scale := func(v reflect.Value) {
		for i := range v.NumField() {
			if f := v.Field(i); f.Kind() == reflect.Float64 {
				f.SetFloat(f.Float() * 1.01)
			}
		}
	}
	scale(v)
	scale(v.FieldByName("Blade"))
	text, err := toml.Marshal(p)
	require.NoError(t, err)
	back, err := Parse(text)
	require.NoError(t, err)
	require.Equal(t, p, back)
	require.Len(t, p.fields(), v.NumField()-1+v.FieldByName("Blade").NumField())
}

func TestParseBad(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"like = 'C'", `line 1: like must be "A" or "B"`},
		{"\nlike = 3", `line 2: like must be "A" or "B"`},
		{"\n\nheater_w = -1", "line 3: heater_w is -1; allowed is a number above 0 up to 50000 W"},
		{"heater_w = 0", "line 1: heater_w is 0; allowed is a number above 0 up to 50000 W"},
		{"probe_lag_s = inf", "line 1: probe_lag_s is +Inf; allowed is a number above 0 up to 3600 s"},
		{"[blade]\nmass_kg = nan", "line 2: blade.mass_kg is NaN; allowed is a number above 0 up to 100 kg"},
		{"blade = {mass_kg = -1}", "line 1: blade.mass_kg is -1; allowed is a number above 0 up to 100 kg"},
		{"delay_s = 1e9", "line 1: delay_s is 1e+09; allowed is a number above 0 up to 600 s"},
		{"door_emissivity = 1.1", "line 1: door_emissivity is 1.1; allowed is a number above 0 up to 1"},
		{"room_c = -300", "line 1: room_c is -300; allowed is a number from -40 to 60 °C"},
		{"heater_w = 'x'", "line 1, column 12: heater_w must be a number above 0 up to 50000 W"},
		{"heater_w = true", "line 1, column 12: heater_w must be a number above 0 up to 50000 W"},
		{"[blade]\nmass_kg = [1]", "line 2, column 11: blade.mass_kg must be a number above 0 up to 100 kg"},
		{"blade = 3", "line 1, column 9: blade must be a table"},
		{"[[blade]]\nmass_kg = 1", "line 1, column 3: blade must be a table"},
		{"heater_w = 1\nheater_w = 2", "line 2, column 1: key heater_w is already defined"},
		{"element_z = 1", `line 1: unknown key "element_z"; allowed are element_heat_j_per_k, ` +
			"element_area_m2, element_emissivity, element_air_w_per_m2_k"},
		{"HEATER_W = 3", `line 1: unknown key "HEATER_W"; allowed are heater_w`},
		{"[blade]\n\nmas_kg = 1", `line 3: unknown key "blade.mas_kg"; allowed are blade.mass_kg, `},
		{"zork = 1", `line 1: unknown key "zork"; allowed are like..., heater...`},
		{"[params]\nx = 1", `line 2: unknown key "params.x"; allowed are like..., heater...`},
		{"air_heat_j_per_k = 1", "line 1: air_heat_j_per_k makes a body that follows its " +
			"surroundings in 0.082 s; allowed is 0.3 s or more"},
		{"[blade]\nmass_kg = 1e-6", "line 2: blade.mass_kg makes a body"},
		{"wall_area_m2 = 100", "with the other figures of this file air_heat_j_per_k makes a body"},
	} {
		_, err := Parse([]byte(c.text))
		require.Error(t, err, c.text)
		require.True(t, strings.HasPrefix(err.Error(), c.want), "%q: %v", c.text, err)
		require.NotContains(t, err.Error(), "\n", c.text)
	}
	for _, text := range []string{"heater_w =", "a = \xff", "[", "heater_w 3", "\x00"} {
		_, err := Parse([]byte(text))
		require.ErrorContains(t, err, "line 1", text)
	}
}

func TestBladeCheck(t *testing.T) {
	require.NoError(t, A().Blade.Check())
	require.Error(t, Blade{}.Check())
	foil := A().Blade
	foil.Mass = 1e-5
	require.ErrorContains(t, foil.Check(), "mass_kg makes a body")
	nan := A().Blade
	nan.Emissivity = math.NaN()
	require.ErrorContains(t, nan.Check(), "emissivity is NaN")
}

// What Parse accepts is an oven that an hour of full power does not blow up; what it refuses is
// one line.
func FuzzParse(f *testing.F) {
	for _, s := range []string{
		"", `like = "B"`, "heater_w = 2000\n[blade]\nmass_kg = 0.1", "blade = {area_m2 = 0.1}",
		"blade.mass_kg = nan", "heater_w = 50000\nelement_area_m2 = 0.001",
		"air_heat_j_per_k = 7\ndoor_exchange_w_per_k = 8", "[[blade]]", "like.x = 1",
		"delay_s = 0.01\nprobe_lag_s = 0.5", "room_c = -40\ngap_w_per_k = 9",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		p, err := Parse(text)
		if err != nil {
			if strings.ContainsRune(err.Error(), '\n') {
				t.Fatalf("more than one line: %q", err)
			}
			return
		}
		o := New(p, p.Room)
		for i := range 4 * 3600 {
			o.SetDoor(i/1000%2 == 1)
			o.Step(p.HeaterW)
		}
		for i, c := range o.x {
			if !(c >= -41 && c < 1e4) {
				t.Fatalf("temperature %d is %g °C after an hour", i, c)
			}
		}
	})
}
