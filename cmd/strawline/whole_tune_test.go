package main

import (
	"bufio"
	"context"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/control/shop"
	"strawline/probe/sim"
)

// TestATuningTestOfTheShopsOven is a test on the wall's time against a board that is not granted
// its time: it heats only after the whole word yes, and ends with the heat off at its longest time.
func TestATuningTestOfTheShopsOven(t *testing.T) {
	t.Parallel()
	home := t.TempDir()
	shopFile, out := filepath.Join(home, "shop.toml"), filepath.Join(home, "t.jsonl")
	require.NoError(t, os.WriteFile(shopFile, []byte(kilnShop(boardOnPty(t,
		sim.Config{Start: 30}))), 0o644))
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	tune := func(stdin io.Reader) (*exec.Cmd, *strings.Builder) {
		cmd := exec.CommandContext(ctx, built, "tune", "--shop", shopFile, "--oven", "kiln", "--most",
			"3s", "--out", out, "--as-root", "--plain")
		cmd.Env = append(os.Environ(), "XDG_DATA_HOME="+home)
		bad := &strings.Builder{}
		cmd.Stdin, cmd.Stderr = stdin, bad
		return cmd, bad
	}
	cmd, bad := tune(strings.NewReader("y\n"))
	require.Error(t, cmd.Run())
	require.Contains(t, bad.String(), "This heats kiln to 200 °C; its limit is 250 °C")
	require.Contains(t, bad.String(), "nothing was heated")
	require.NoFileExists(t, out)

	typed, hand := io.Pipe()
	cmd, bad = tune(typed)
	stdout, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	_, err = io.WriteString(hand, "yes\n")
	require.NoError(t, err)
	for sc := bufio.NewScanner(stdout); sc.Scan(); {
		if strings.Contains(sc.Text(), "end: refused") {
			go io.WriteString(hand, "answer\n")
		}
	}
	_ = hand.Close()
	require.Error(t, cmd.Wait())
	require.Equal(t, exitTemporary, cmd.ProcessState.ExitCode(), bad.String())
	require.Contains(t, bad.String(), "no gains: it was not done in 3s")
	info, records, err := readRun(out)
	require.NoError(t, err)
	require.False(t, info.Simulated, "nothing told the program that this board is simulated")
	require.Equal(t, control.TestColdStart, info.Test.Kind)
	heated, last := 0, 0
	for _, r := range records {
		if r.Sample != nil {
			heated, last = max(heated, r.Sample.Duty), r.Sample.Duty
		}
	}
	require.Positive(t, heated)
	require.Zero(t, last)
	found, err := shop.NewStore(filepath.Join(home, "found.toml")).Load()
	require.NoError(t, err)
	require.Empty(t, found.Models)
	require.Empty(t, found.Gains)
}
