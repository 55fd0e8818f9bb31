package main

import (
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/control/runlog"
)

// TestAProbeThatCannotBeBelieved: swapped leads and a chip that repeats itself are found in the
// simulated shop within a minute of heating, and the heat is away from then on.
func TestAProbeThatCannotBeBelieved(t *testing.T) {
	for _, c := range []struct {
		fault  string
		from   time.Duration
		within time.Duration
		why    string
	}{
		{"reversed@0s", 0, time.Minute, "leads reversed"},
		{"frozen@2m", 2 * time.Minute, 75 * time.Second, "frozen"}, // and 10 s of doubt
		{"frozen@50m", 50 * time.Minute, 75 * time.Second, "frozen"},
	} {
		t.Run(c.fault, func(t *testing.T) {
			t.Parallel()
			out := filepath.Join(t.TempDir(), "r")
			cmd := exec.Command(built, "demo", "--plain", "--pace", "max", "--seed", "5",
				"--fault", c.fault, "--out", out)
			text, err := cmd.CombinedOutput()
			require.Error(t, err, string(text))
			require.Equal(t, exitTemporary, cmd.ProcessState.ExitCode())
			require.Contains(t, string(text), c.why)
			f, err := runlog.Open(out)
			require.NoError(t, err)
			defer f.Close()
			records, err := f.All()
			require.NoError(t, err)
			tripped := time.Duration(0)
			for _, r := range records {
				if r.Event != nil && r.Event.Kind == control.EvTrip {
					tripped = r.Event.T
				}
				if r.Sample != nil && tripped > 0 {
					require.Zero(t, r.Sample.Duty)
				}
			}
			require.Greater(t, tripped, c.from)
			require.LessOrEqual(t, tripped-c.from, c.within)
		})
	}
}
