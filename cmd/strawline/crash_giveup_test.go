//go:build linux || darwin

package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/control/attach"
	"strawline/control/keeper"
	"strawline/control/runlog"
	"strawline/profiles"
)

// TestARunThatCannotBeTakenUpIsEnded: the keeper of a run was killed and its board is gone. watch
// says so and how to end it; stop without a name leaves it, stop with its name ends it for good.
func TestARunThatCannotBeTakenUpIsEnded(t *testing.T) {
	t.Parallel()
	l := heatingLane(t, 3)
	l.dies()
	require.NoError(t, l.kiln.board.Close()) // pulled out for good
	l.ends("crash", "no such port")
	f := readTape(t, l.out)
	require.Zero(t, f.torn)
	require.Equal(t, "stopped", f.one("end").Word)
	require.Contains(t, f.one("end").Text, "given up by a person")
	f.one("closed")
	require.Equal(t, exitOK, l.pipes("replay", l.out, "--plain", "--pace", "max").code)
}

// TestAnUnfinishedTuningTestIsEnded: a test whose keeper was killed is not gone on with.
func TestAnUnfinishedTuningTestIsEnded(t *testing.T) {
	t.Parallel()
	l := newLane(t, &toll{}, 3, 1)
	l.out = filepath.Join(l.home, "t.jsonl")
	p, err := profiles.Parse("crash.toml", []byte(crashProfile))
	require.NoError(t, err)
	w, err := runlog.Create(l.out, control.Info{Run: "crash", Unit: "C", Profile: *p,
		Start: time.Now(), Gains: control.CautiousGains(),
		Shop: control.Shop{Oven: "oven", LimitC: 230, BoardLimC: 260, CeilingC: 320,
			Channels: []string{"oven air"}},
		Test: &control.TestInfo{Kind: control.TestColdStart, TargetC: 150, MostS: 3600}})
	require.NoError(t, err)
	require.NoError(t, w.Append(control.Record{Event: &control.Event{Kind: control.EvStart}}))
	require.NoError(t, w.Close())
	text, err := json.Marshal([]keeper.Unfinished{{Name: "crash", Out: l.out, Port: l.kiln.path,
		Job: attach.Job{Folder: l.home, Env: l.command().Env,
			Args: running("crash.toml", "--port", l.kiln.path)[1:]}}})
	require.NoError(t, err)
	require.NoError(t, os.MkdirAll(filepath.Dir(l.seat.kept), 0o700))
	require.NoError(t, os.WriteFile(l.seat.kept, text, 0o600))
	l.ends("crash", control.ErrTest.Error())
	require.Equal(t, "stopped", readTape(t, l.out).one("end").Word)
}

// ends says that an unfinished run cannot be taken up, why, and that a person can end it.
func (l *lane) ends(run, why string) {
	l.t.Helper()
	l.pipes("watch").refused(l.t, exitTemporary, "the run "+run+" is unfinished", why,
		"strawline stop "+run)
	l.pipes("stop").refused(l.t, exitTemporary, "strawline stop "+run)
	require.True(l.t, l.kept(), "only where it is named")
	told := l.pipes("stop", run)
	require.Equal(l.t, exitOK, told.code, told.bad)
	require.Empty(l.t, told.bad)
	require.Contains(l.t, told.out, "given up by a person")
	require.NotContains(l.t, told.out, "off commanded", "nobody commanded anything")
	require.NoFileExists(l.t, l.seat.kept)
	require.Contains(l.t, []int{exitNoInput, exitUnavailable}, l.pipes("watch").code)
}
