//go:build linux || darwin

package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/control/runlog"
)

// The tests in the files whole_*_test.go look at the built program from outside only: what it
// prints, how it ends, and what its run file holds.

// long says that the long repetitions are wanted.
func long() bool { return os.Getenv("STRAWLINE_CI") == "1" }

// wholeData is the path of a file below the repository's testdata.
func wholeData(t *testing.T, name string) string {
	t.Helper()
	return filepath.Join(repoRoot(t), "testdata", filepath.FromSlash(name))
}

// newWholePerson is a person whose temporary files stay in their home too.
func newWholePerson(t *testing.T) *person {
	t.Helper()
	p := newPerson(t)
	require.NoError(t, os.Mkdir(filepath.Join(p.home, "tmp"), 0o700))
	return p
}

// whole makes the program's command with everything it may write inside the person's home.
func (p *person) whole(args ...string) *exec.Cmd {
	cmd := p.command(args...)
	cmd.Env = append(cmd.Env, "TMPDIR="+filepath.Join(p.home, "tmp"))
	return cmd
}

// told is what a run of the program gave.
type told struct {
	out, bad string
	code     int
	took     time.Duration // by the wall
	worked   time.Duration // by the processor: what else it does is no fault of the program
}

// pipes runs the program without a terminal: its standard input is the null device.
func (p *person) pipes(args ...string) told {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.t.Context(), patience)
	defer cancel()
	made := p.whole(args...)
	cmd := exec.CommandContext(ctx, made.Path, args...)
	cmd.Dir, cmd.Env, cmd.SysProcAttr = made.Dir, made.Env, made.SysProcAttr
	var out, bad bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &bad
	start := time.Now()
	err := cmd.Run()
	var ended *exec.ExitError
	if err != nil && !errors.As(err, &ended) {
		require.NoError(p.t, err)
	}
	was := cmd.ProcessState
	return told{out.String(), bad.String(), was.ExitCode(), time.Since(start),
		was.UserTime() + was.SystemTime()}
}

// refused says that the program ended with one line on stderr and nothing else.
func (g told) refused(t *testing.T, code int, words ...string) {
	t.Helper()
	assert.Equal(t, code, g.code, g.bad)
	assert.Empty(t, g.out)
	assert.True(t, strings.HasPrefix(g.bad, "strawline"), g.bad)
	assert.Equal(t, 1, strings.Count(g.bad, "\n"), g.bad)
	assert.True(t, strings.HasSuffix(g.bad, "\n"), g.bad)
	for _, w := range words {
		assert.Contains(t, g.bad, w)
	}
}

// recorded is a line of a run file as any JSON reader sees it. This reader shares no code with
// the program.
type recorded struct {
	N     int      `json:"n"`
	T     float64  `json:"t_s"`
	Raw   string   `json:"raw"`
	T1    *float64 `json:"t1_c"`
	Set   *float64 `json:"set_c"`
	Duty  *int     `json:"duty_pm"`
	Soak  *float64 `json:"soak_s"`
	Event string   `json:"event"`
	Step  *int     `json:"step"`
	Code  string   `json:"code"`
	Word  string   `json:"word"`
	Text  string   `json:"text"`
	SpanS *float64 `json:"span_s"`
	Asked *struct {
		Ask string `json:"ask"`
		By  string `json:"by"`
	} `json:"asked"`
	Hash string `json:"h"`
}

// head is a run file's first line.
type head struct {
	Record    string  `json:"record"`
	Schema    int     `json:"schema"`
	Simulated bool    `json:"simulated"`
	Seed      *uint64 `json:"seed"`

	Start time.Time `json:"start"`
}

// tape is a whole run file.
type tape struct {
	t    *testing.T
	head head
	recs []recorded
	torn int // bytes behind the last line end
}

// readTape reads a run file: every line is one JSON object, the numbers have no hole, each
// hash follows from the line before, and time never goes back.
func readTape(t *testing.T, path string) *tape {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	f := &tape{t: t}
	prev := ""
	for n := 0; len(data) > 0; n++ {
		end := bytes.IndexByte(data, '\n')
		if end < 0 {
			f.torn = len(data)
			break
		}
		line := data[:end]
		data = data[end+1:]
		var r recorded
		require.NoError(t, json.Unmarshal(line, &r), "line %d", n+1)
		require.Equal(t, n, r.N)
		cut := bytes.LastIndex(line, []byte(`,"h":`))
		require.Positive(t, cut, "line %d", n+1)
		sum := sha256.Sum256(append([]byte(prev), line[:cut]...))
		require.Equal(t, hex.EncodeToString(sum[:3]), r.Hash, "line %d", n+1)
		prev = r.Hash
		if n == 0 {
			require.NoError(t, json.Unmarshal(line, &f.head))
			require.Equal(t, "head", f.head.Record)
			continue
		}
		if len(f.recs) > 0 {
			require.GreaterOrEqual(t, r.T, f.recs[len(f.recs)-1].T, "line %d", n+1)
		}
		f.recs = append(f.recs, r)
	}
	return f
}

// readWhole reads a run file that must be complete, and has the program's own reader agree.
func readWhole(t *testing.T, path string) *tape {
	t.Helper()
	f := readTape(t, path)
	require.Zero(t, f.torn)
	require.True(t, f.head.Simulated, "the first line says simulated")
	theirs, err := runlog.Open(path)
	require.NoError(t, err)
	defer theirs.Close()
	require.Equal(t, theirs.Len(), len(f.recs))
	require.Empty(t, theirs.Lost())
	return f
}

// events gives the events of a kind, in order.
func (f *tape) events(kind string) []recorded {
	var found []recorded
	for _, r := range f.recs {
		if r.Event == kind {
			found = append(found, r)
		}
	}
	return found
}

// one gives the only event of a kind.
func (f *tape) one(kind string) recorded {
	f.t.Helper()
	found := f.events(kind)
	require.Len(f.t, found, 1, kind)
	return found[0]
}

// samples gives the samples within from to to, both included, in seconds of the run.
func (f *tape) samples(from, to float64) []recorded {
	var found []recorded
	for _, r := range f.recs {
		if r.Duty != nil && r.T >= from && r.T <= to {
			found = append(found, r)
		}
	}
	return found
}

// end is the time of the last record.
func (f *tape) end() float64 {
	require.NotEmpty(f.t, f.recs)
	return f.recs[len(f.recs)-1].T
}

// noHeat says that every sample within from to to commands the heat off, and that there are
// samples.
func (f *tape) noHeat(from, to float64) {
	f.t.Helper()
	s := f.samples(from, to)
	require.NotEmpty(f.t, s)
	for _, r := range s {
		require.Zero(f.t, *r.Duty, "duty at %.2f s", r.T)
	}
}

// heated says that some sample within from to to commands heat, so that noHeat elsewhere says
// something.
func (f *tape) heated(from, to float64) {
	f.t.Helper()
	for _, r := range f.samples(from, to) {
		if *r.Duty > 0 {
			return
		}
	}
	require.Fail(f.t, "no heat at all", "%.2f to %.2f s", from, to)
}

// soaks says that both soaks were done, of two hours in band each, and that each is what the
// samples' own soak clock says.
func (f *tape) soaks() {
	f.t.Helper()
	done := f.events("soaked")
	require.Len(f.t, done, 2)
	for _, e := range done {
		require.NotNil(f.t, e.SpanS)
		assert.InDelta(f.t, 7200, *e.SpanS, 2)
		last := 0.0
		for _, s := range f.samples(e.T-7000, e.T) {
			if s.Soak != nil {
				last = *s.Soak
			}
		}
		assert.InDelta(f.t, *e.SpanS, last, 2, "the samples' clock")
	}
}

// creditKept says that the soak clock of a step never falls.
func (f *tape) creditKept() {
	f.t.Helper()
	step, last := -1, 0.0
	seen := 0
	for _, r := range f.recs {
		switch {
		case r.Event == "step" && r.Step != nil && *r.Step != step:
			step, last = *r.Step, 0
		case r.Soak != nil:
			require.GreaterOrEqual(f.t, *r.Soak, last, "soak at %.2f s", r.T)
			last = *r.Soak
			seen++
		}
	}
	require.Positive(f.t, seen)
}

// done says that the run went through: end "done", answered, heat off from then on.
func (f *tape) done() {
	f.t.Helper()
	end := f.one("end")
	assert.Equal(f.t, "done", end.Word)
	f.one("closed")
	f.noHeat(end.T, f.end())
}
