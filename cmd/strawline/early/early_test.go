package early_test

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/cmd/strawline/early"
	"strawline/tui"
)

// child is set for a copy of this test program that only says what it finds.
const child = "STRAWLINE_EARLY_CHILD"

func TestMain(m *testing.M) {
	if os.Getenv(child) == "" {
		os.Exit(m.Run())
	}
	early.Restore()
	early.Restore()
	value, has := os.LookupEnv("CI")
	fmt.Printf("CI=%q %v line=%d\n", value, has, tui.Dashboard) // tui brings the library in
}

// onPty runs the copy on a terminal that never answers and gives what it wrote there.
func onPty(t *testing.T, extra ...string) (string, time.Duration) {
	cmd := exec.Command(os.Args[0])
	for _, v := range os.Environ() {
		if !strings.HasPrefix(v, "CI=") && !strings.HasPrefix(v, "TERM=") {
			cmd.Env = append(cmd.Env, v)
		}
	}
	cmd.Env = append(cmd.Env, "TERM=xterm-256color", child+"=1")
	cmd.Env = append(cmd.Env, extra...)
	var trace bytes.Buffer
	cmd.Stderr = &trace
	start := time.Now()
	f, err := pty.Start(cmd)
	require.NoError(t, err)
	defer f.Close()
	out, _ := io.ReadAll(f) // ends with an input/output error when the copy is done
	require.NoError(t, cmd.Wait())
	return trace.String() + string(out), time.Since(start)
}

func TestTerminalThatDoesNotAnswerCostsNothing(t *testing.T) {
	out, took := onPty(t)
	t.Logf("start to end on a terminal that never answers: %v", took)
	assert.Less(t, took, 3*time.Second, "the library's patience is 5 s")
	assert.NotContains(t, out, "\x1b]", "nothing was asked")
	assert.NotContains(t, out, "\x1b[6n")
	assert.Contains(t, out, `CI="" false`, "the environment is as it was")
}

func TestASetVariableStays(t *testing.T) {
	out, _ := onPty(t, "CI=yes")
	assert.Contains(t, out, `CI="yes" true`)
}

// TestOrder: this package is initialised before the one that asks.
func TestOrder(t *testing.T) {
	out, _ := onPty(t, "GODEBUG=inittrace=1")
	ours := strings.Index(out, "init strawline/cmd/strawline/early ")
	theirs := strings.Index(out, "init github.com/charmbracelet/bubbletea ")
	require.NotEqual(t, -1, ours, out)
	require.NotEqual(t, -1, theirs, out)
	assert.Less(t, ours, theirs)
}
