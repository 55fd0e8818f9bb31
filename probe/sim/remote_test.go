package sim_test

import (
	"bufio"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe/sim"
)

// fakeBench answers each line that it gets with the next of answers, and gives what it got.
func fakeBench(t *testing.T, answers ...string) (path string, got func() []string) {
	t.Helper()
	dir, err := os.MkdirTemp("", "strawline") // a socket's path must be short
	require.NoError(t, err)
	path = filepath.Join(dir, "s")
	l, err := net.Listen("unix", path)
	require.NoError(t, err)
	done := make(chan []string, 1)
	go func() {
		var lines []string
		defer func() { done <- lines }()
		c, err := l.Accept()
		if err != nil {
			return
		}
		defer c.Close()
		in := bufio.NewScanner(c)
		for _, a := range answers {
			if !in.Scan() {
				return
			}
			lines = append(lines, in.Text())
			if _, err := c.Write([]byte(a)); err != nil {
				return
			}
		}
		if in.Scan() {
			lines = append(lines, in.Text())
		}
	}()
	t.Cleanup(func() { assert.NoError(t, os.RemoveAll(dir)) })
	return path, func() []string {
		defer l.Close()
		return <-done
	}
}

const hello = "simulated strawline-bench 1\n"

func TestRemote(t *testing.T) {
	path, got := fakeBench(t, hello, "said 0\n", "reset\n", "said 85\n", "said 18446744073709551615\n")
	r, err := sim.Dial(path)
	require.NoError(t, err)
	said, err := r.Grant(0)
	require.NoError(t, err)
	assert.Zero(t, said)
	r.Opened()
	said, err = r.Grant(2)
	require.NoError(t, err)
	assert.Equal(t, uint64(85), said)
	said, err = r.Grant(1 << 40)
	require.NoError(t, err)
	assert.Equal(t, ^uint64(0), said)
	require.NoError(t, r.Close())
	require.NoError(t, r.Close())
	_, err = r.Grant(0)
	assert.ErrorIs(t, err, sim.ErrClosed)
	assert.Equal(t, []string{"hello", "grant 0", "opened", "grant 2", "grant 1099511627776"}, got())
}

func TestRemoteRefuses(t *testing.T) {
	for _, answer := range []string{"\n", "hello\n", "simulated strawline-bench 2\n",
		"error no\n", strings.Repeat("x", 10000)} {
		path, got := fakeBench(t, answer)
		_, err := sim.Dial(path)
		assert.ErrorIs(t, err, sim.ErrNoBench, answer)
		assert.Less(t, len(err.Error()), 300)
		got()
	}
	path, got := fakeBench(t) // it hangs up
	_, err := sim.Dial(path)
	assert.ErrorIs(t, err, sim.ErrNoBench)
	got()
	_, err = sim.Dial(filepath.Join(t.TempDir(), "none"))
	assert.ErrorIs(t, err, os.ErrNotExist)
}

// TestRemoteStays: after one wrong answer nothing is asked again, since what follows may be the
// answer to an earlier line.
func TestRemoteStays(t *testing.T) {
	for _, answer := range []string{"said\n", "said -1\n", "said 1 2\n", "reset\n", "error late\n",
		"\n", strings.Repeat("x", 10000)} {
		path, got := fakeBench(t, hello, answer, "said 9\n")
		r, err := sim.Dial(path)
		require.NoError(t, err)
		_, err = r.Grant(5)
		require.ErrorContains(t, err, "granting time to the simulated board", answer)
		if answer == "error late\n" {
			assert.ErrorContains(t, err, "late")
		}
		_, err = r.Grant(5)
		require.Error(t, err, answer)
		require.NoError(t, r.Close())
		assert.Equal(t, []string{"hello", "grant 5"}, got())
	}
	path, got := fakeBench(t, hello, "said 0\n")
	r, err := sim.Dial(path)
	require.NoError(t, err)
	r.Opened()
	_, err = r.Grant(0)
	assert.ErrorContains(t, err, "resetting")
	require.NoError(t, r.Close())
	got()
}
