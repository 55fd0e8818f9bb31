package pid

import (
	"encoding/json"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// load reads a file of testdata/control, whose header says where its figures come from.
func load(t testing.TB, name string, into any) {
	t.Helper()
	text, err := os.ReadFile("../../testdata/control/" + name)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(text, into))
}

// entry reads one entry of check_values.json.
func entry(t testing.TB, name string, inputs, expected any) {
	t.Helper()
	var file struct {
		Entries map[string]struct{ Inputs, Expected json.RawMessage }
	}
	load(t, "check_values.json", &file)
	require.Contains(t, file.Entries, name)
	require.NoError(t, json.Unmarshal(file.Entries[name].Inputs, inputs))
	require.NoError(t, json.Unmarshal(file.Entries[name].Expected, expected))
}

type vectorInputs struct {
	K, Ti, Td, N, B, C, Tt float64
	UMin                   float64 `json:"u_min"`
	UMax                   float64 `json:"u_max"`
	Start                  struct{ U, R, Y float64 }
	Steps                  [][3]float64
	Retune                 struct {
		K, Ti, Td, B float64
		Step         [3]float64
	} `json:"retune_then"`
}

func TestReferenceVector(t *testing.T) {
	var in vectorInputs
	var short struct{ U, V, I, D []float64 }
	entry(t, "pid_reference_vector", &in, &short)
	var want struct {
		Steps []struct {
			U, V, I, D float64
			P          *float64
		}
	}
	load(t, "pid_reference_vector.json", &want)
	require.Zero(t, in.C, "the law differentiates the measurement only")
	require.Len(t, want.Steps, len(in.Steps)+1)
	require.Len(t, short.U, len(in.Steps)+1)

	cfg := Config{K: in.K, Ti: in.Ti, Td: in.Td, N: in.N, B: in.B, Min: in.UMin, Max: in.UMax,
		AntiWindup: BackCalculation, Tt: in.Tt}
	st := Preset(cfg, in.Start.U, in.Start.R, in.Start.Y)
	for i, w := range want.Steps {
		step := in.Retune.Step
		if i < len(in.Steps) {
			step = in.Steps[i]
		} else {
			next := cfg
			next.K, next.Ti, next.Td, next.B = in.Retune.K, in.Retune.Ti, in.Retune.Td, in.Retune.B
			st = Retune(cfg, next, st)
			cfg = next
		}
		var out Output
		var err error
		st, out, err = Step(cfg, st, Input{H: step[0], R: step[1], Y: step[2]})
		require.NoError(t, err)
		assert.InDelta(t, w.U, out.U, 1e-9, "u of step %d", i)
		assert.InDelta(t, w.V, out.V, 1e-9, "v of step %d", i)
		assert.InDelta(t, w.I, out.I, 1e-9, "I of step %d", i)
		assert.InDelta(t, w.D, out.D, 1e-9, "D of step %d", i)
		if w.P != nil {
			assert.InDelta(t, *w.P, out.P, 1e-9, "P of step %d", i)
		}
		assert.InDelta(t, short.U[i], out.U, 1e-6, "the two files differ at step %d", i)
	}
}
