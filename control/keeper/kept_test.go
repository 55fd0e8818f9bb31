package keeper

import (
	"bufio"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control/attach"
)

// keptChild names, in a child of the kill test, the list that it writes again and again.
const keptChild = "STRAWLINE_KEPT_CHILD"

// keptList is the i-th list that the child writes: it grows and shrinks, and every third is none.
func keptList(i int) (list []Unfinished) {
	for n := range i % 3 * 7 {
		list = append(list, Unfinished{Name: fmt.Sprintf("run-%d-%d", i%3, n), Out: "/runs/a.jsonl",
			Port: "/dev/ttyUSB0", Job: attach.Job{Args: []string{strings.Repeat("x", 100)}}})
	}
	return list
}

// keepOn writes lists until it is killed, and tells the number of each before and after.
func keepOn(path string) int {
	for i := 0; ; i++ {
		fmt.Println(i)
		if err := writeKept(path, keptList(i)); err != nil {
			fmt.Println(err)
			return 1
		}
	}
}

// TestTheListOfRunsIsNeverTorn kills a process that writes the list at random moments: what is
// there is the list that was written last or the one before it, whole.
func TestTheListOfRunsIsNeverTorn(t *testing.T) {
	n := 12
	if many, err := strconv.Atoi(os.Getenv("STRAWLINE_KILLS")); err == nil {
		n = many
	}
	seed := rand.Uint64()
	if part, err := strconv.ParseUint(os.Getenv("STRAWLINE_PART"), 10, 64); err == nil {
		seed = 1000 + part
	}
	dice := rand.New(rand.NewPCG(seed, 0))
	dir := t.TempDir()
	path := filepath.Join(dir, "k.runs")
	exe, err := os.Executable()
	require.NoError(t, err)
	beside := 0
	for range n {
		cmd := exec.Command(exe)
		cmd.Env = append(os.Environ(), keptChild+"="+path)
		out, err := cmd.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, cmd.Start())
		in := bufio.NewScanner(out)
		require.True(t, in.Scan(), "it began")
		timer := time.AfterFunc(time.Duration(dice.Int64N(int64(30*time.Millisecond))), func() {
			_ = cmd.Process.Kill()
		})
		last := in.Text()
		for in.Scan() {
			last = in.Text()
		}
		timer.Stop()
		require.Error(t, cmd.Wait(), "it was killed")
		i, err := strconv.Atoi(last)
		require.NoError(t, err, "not %q", last)
		list, err := ReadKept(path)
		require.NoError(t, err)
		require.Contains(t, [][]Unfinished{keptList(i), keptList(i + 2)}, list, "list %d", i)
		names, err := filepath.Glob(filepath.Join(dir, "*"))
		require.NoError(t, err)
		require.LessOrEqual(t, len(names), 2)
		if _, err := os.Stat(path + ".new"); err == nil {
			beside++
		}
		require.NoError(t, writeKept(path, keptList(1)), "the next keeper writes over it")
		require.NoError(t, writeKept(path, keptList(2)))
	}
	t.Logf("lists of runs killed in writing: %d, seed %d, %d with a new list beside the old one", n,
		seed, beside)
}
