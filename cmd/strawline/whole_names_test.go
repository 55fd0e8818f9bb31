package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestRunsOfTheSameSecondHaveAFileEach starts several demos at once without naming a run file.
func TestRunsOfTheSameSecondHaveAFileEach(t *testing.T) {
	home := t.TempDir()
	profile := filepath.Join(home, "tiny.toml")
	require.NoError(t, os.WriteFile(profile, []byte("name = \"tiny\"\nlimit = \"220F\"\n"+
		"band = \"20F\"\n[[step]]\nramp = \"100F\"\n[[step]]\nsoak = \"2s\"\n"), 0o600))
	const many = 6
	var wg sync.WaitGroup
	var outs [many]string
	var errs [many]error
	for i := range many {
		wg.Go(func() {
			cmd := exec.Command(built, "demo", "--plain", "--pace", "max", "--profile", profile)
			cmd.Env = append(os.Environ(), "XDG_DATA_HOME="+home)
			text, err := cmd.CombinedOutput()
			outs[i], errs[i] = string(text), err
		})
	}
	wg.Wait()
	for i := range many {
		require.NoError(t, errs[i], outs[i])
	}
	files, err := filepath.Glob(filepath.Join(home, "strawline", "runs", "*.jsonl"))
	require.NoError(t, err)
	require.Len(t, files, many)
}
