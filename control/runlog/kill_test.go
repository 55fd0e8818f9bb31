package runlog

import (
	"bufio"
	"context"
	"encoding/binary"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
)

// child is the process that the kill test ends: it writes samples as fast as it can and tells
// its standard output the number of each record before it hands it over and after it is
// written. Modes: "writer" appends directly; "logger" goes through the queue in lockstep;
// "resume" appends behind a recovery.
func child(path, mode string) int {
	var w *Writer
	var err error
	if mode == "resume" {
		w, _, err = Recover(path)
	} else {
		w, err = Create(path, testInfo())
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	write := func(i int) error { return w.Append(sampleRecord(i)) }
	if mode == "logger" {
		l := Start(w, nil)
		write = func(i int) error {
			l.Put(sampleRecord(i))
			return l.Flush(context.Background())
		}
	}
	var msg [16]byte // number given, number done
	for i := 1; ; i++ {
		binary.LittleEndian.PutUint64(msg[:8], uint64(i))
		os.Stdout.Write(msg[:])
		if err := write(i); err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 1
		}
		binary.LittleEndian.PutUint64(msg[8:], uint64(i))
		os.Stdout.Write(msg[:])
	}
}

// killed runs a child until it has written so many records, kills it and gives the last
// numbers it told.
func killed(t *testing.T, path, mode string, after uint64) (given, done uint64) {
	exe, err := os.Executable()
	require.NoError(t, err)
	cmd := exec.Command(exe)
	cmd.Env = append(os.Environ(), "STRAWLINE_RUNLOG_CHILD="+path, "STRAWLINE_RUNLOG_MODE="+mode)
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	pipe := bufio.NewReader(out)
	var msg [16]byte
	for dead := false; ; {
		if _, err := io.ReadFull(pipe, msg[:]); err != nil {
			break // the pipe is empty and its other end gone
		}
		given = binary.LittleEndian.Uint64(msg[:8])
		done = binary.LittleEndian.Uint64(msg[8:])
		if done >= after && !dead {
			dead = true
			require.NoError(t, cmd.Process.Kill())
		}
	}
	cmd.Wait() // it says that it was killed
	require.GreaterOrEqual(t, done, after, "the child ended by itself")
	return given, done
}

// TestKill ends a writing process 200 times with SIGKILL at a random moment. The file must
// open, say what was lost, and have every record that was told to be written; of the records
// handed over at most those of the last second of the run (four samples) may be missing.
func TestKill(t *testing.T) {
	seed := rand.Uint64()
	if part, err := strconv.ParseUint(os.Getenv("STRAWLINE_PART"), 10, 64); err == nil {
		seed = 1000 + part
	}
	t.Log("seed", seed)
	rnd := rand.New(rand.NewPCG(seed, 1))
	dir := t.TempDir()
	torn, missing := 0, uint64(0)
	began := time.Now()
	for round := range 200 {
		path := filepath.Join(dir, fmt.Sprint(round))
		mode := []string{"writer", "logger"}[round%2]
		given, done := killed(t, path, mode, 1+rnd.Uint64N(300))
		before := checkKilled(t, path, given, done, &torn)
		missing = max(missing, given-before)
		if round%8 == 0 { // go on behind the wreck, and kill that too
			given, done = killed(t, path, "resume", 1+rnd.Uint64N(100))
			last := checkKilled(t, path, given, done, &torn)
			missing = max(missing, given-last)
		}
		require.NoError(t, os.Remove(path))
	}
	t.Logf("writers killed: 225 in %v, %d torn lines, at most %d records handed over and missing",
		time.Since(began).Round(time.Millisecond), torn, missing)
}

// checkKilled gives the number of the last sample in the file.
func checkKilled(t *testing.T, path string, given, done uint64, torn *int) uint64 {
	f, all := readAll(t, path)
	st, err := os.Stat(path)
	require.NoError(t, err)
	require.Equal(t, st.Size(), f.end+f.Tail.Bytes)
	if f.Tail.Bytes > 0 {
		*torn++
		require.Contains(t, f.Tail.String(), fmt.Sprint(f.Tail.Bytes))
	}
	var last uint64
	for _, r := range all {
		if r.Event != nil {
			require.Equal(t, control.EvLost, r.Event.Kind)
			last = 0 // the child that goes on counts anew
			continue
		}
		require.Equal(t, testSample(int(last)+1).T, r.Sample.T)
		last++
	}
	require.GreaterOrEqual(t, last, done, "a record that was told to be written is missing")
	require.LessOrEqual(t, last, given)
	require.LessOrEqual(t, given-last, uint64(4), "more than a second is missing")
	return last
}
