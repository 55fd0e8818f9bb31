package main

import (
	"bufio"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/control/runlog"
)

const shortTemper = `name = "short"
limit = "220F"
band = "10F"
[[step]]
repeat = 2
[[step.do]]
ramp = "170F"
[[step.do]]
soak = "1m"
[[step.do]]
cool = "150F"
`

// firmwareTemper is a short two-cycle temper by the real program against the real firmware in
// the simulated processor, stepped by grants, twice; its run file is read like any other.
func firmwareTemper(t *testing.T, b bench) {
	profile := filepath.Join(t.TempDir(), "short.toml")
	require.NoError(t, os.WriteFile(profile, []byte(shortTemper), 0o600))
	var files [2][]byte
	for i := range files {
		path, socket := grantedBench(t, b, "--stored", "1,1027,2,50")
		out := filepath.Join(t.TempDir(), "r")
		cmd := exec.Command(built, "run", profile, "--port", path, "--grants", socket, "--out", out,
			"--plain")
		text, err := cmd.CombinedOutput()
		require.NoError(t, err, string(text))
		require.Contains(t, string(text), "SIMULATED")
		files[i], err = os.ReadFile(out)
		require.NoError(t, err)
		temperDone(t, out)
	}
	assert.Equal(t, string(files[0]), string(files[1]), "the same twice")

	refused := exec.Command(built, "run", profile, "--port", "/dev/null", "--grants", "/nowhere")
	text, err := refused.CombinedOutput()
	require.Error(t, err)
	assert.Contains(t, string(text), "it is no pseudo-terminal")
}

// temperDone reads the run file: both soaks whole, heat given, no doubt and no trip.
func temperDone(t *testing.T, path string) {
	f, err := runlog.Open(path)
	require.NoError(t, err)
	defer f.Close()
	require.True(t, f.Info.Simulated)
	require.Nil(t, f.Info.Seed)
	records, err := f.All()
	require.NoError(t, err)
	soaks, heat := 0, 0
	for _, r := range records {
		if r.Sample != nil && r.Sample.Duty > 0 {
			heat++
		}
		if r.Event == nil {
			continue
		}
		switch r.Event.Kind {
		case control.EvSoaked:
			soaks++
			assert.InDelta(t, 60, *r.Event.SpanS, 0.5)
		case control.EvDoubt, control.EvTrip, control.EvGap:
			t.Errorf("%s: %s", r.Event.Kind, r.Event.Text)
		}
	}
	assert.Equal(t, 2, soaks)
	assert.Greater(t, heat, 400)
}

// grantedBench starts a bench and leaves its socket to the program.
func grantedBench(t *testing.T, b bench, args ...string) (path, socket string) {
	t.Helper()
	dir, err := os.MkdirTemp("", "strawline-bench-") // a socket's path must be short
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, os.RemoveAll(dir)) })
	socket = filepath.Join(dir, "grants")
	cmd := exec.Command(b.program, append([]string{b.firmware, "--grants", socket}, args...)...)
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	t.Cleanup(func() {
		assert.NoError(t, cmd.Process.Signal(syscall.SIGTERM))
		assert.NoError(t, cmd.Wait())
	})
	line, err := bufio.NewReader(out).ReadString('\n')
	require.NoError(t, err)
	path, ok := strings.CutPrefix(strings.TrimSpace(line), "pty ")
	require.True(t, ok, line)
	return path, socket
}
