//go:build linux || darwin

package main

import (
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/control/alarm"
	"strawline/control/keeper"
)

// TestHooks: an alarm and an end reach the person's command as JSON; one that hangs is killed,
// and whoever told of the event never waited. A shop file that others may write runs nothing.
func TestHooks(t *testing.T) {
	t.Parallel()
	p := newPerson(t)
	got := filepath.Join(p.home, "got")
	script := p.write("ring", "#!/bin/sh\ncat >>"+got+"\necho \"$1\" >>"+got+"\n")
	slow := p.write("slow", "#!/bin/sh\nexec sleep 60\n")
	for _, path := range []string{script, slow} {
		require.NoError(t, os.Chmod(path, 0o700))
	}
	path := p.write("shop.toml", `on_alarm = ["`+script+`", "a;b"]`+"\n"+`on_done = ["`+slow+`"]`+"\n")
	h := &host{env: p.command().Env}
	b, err := h.shopFiles(path)
	require.NoError(t, err)
	require.NoError(t, os.Chmod(path, 0o664))
	_, err = newHooks(b, nil)
	require.ErrorContains(t, err, "writable by nobody else")
	require.NoError(t, os.Chmod(path, 0o644))

	var mu sync.Mutex
	var said []string
	k, err := newHooks(b, func(s string) {
		mu.Lock()
		defer mu.Unlock()
		said = append(said, s)
	})
	require.NoError(t, err)
	k.limit = 2 * time.Second
	start := time.Now()
	for _, ev := range []control.Event{
		{Kind: control.EvEnd, Word: "done", Text: "the profile is done"},
		{T: time.Minute, Kind: control.EvAlarm, Code: alarm.OverTemperature, Word: "C"},
		{T: time.Minute, Kind: control.EvAlarm, Code: alarm.OverTemperature, Word: "B"},
	} {
		k.record("kitchen", control.Record{Event: &ev})
	}
	require.Less(t, time.Since(start), k.limit+machine.longest(start), "nobody waited for the slow one")
	require.Eventually(t, func() bool {
		text, err := os.ReadFile(got)
		return err == nil && strings.HasSuffix(string(text), "a;b\n")
	}, patience, 5e6)
	k.end()
	text, err := os.ReadFile(got)
	require.NoError(t, err)
	line, _, _ := strings.Cut(string(text), "\n")
	var ev hook
	require.NoError(t, json.Unmarshal([]byte(line), &ev))
	require.Equal(t, "alarm", ev.Event)
	require.Equal(t, "OVER LIMIT", ev.Word)
	require.Equal(t, 1, strings.Count(string(text), "a;b"), "only a new occurrence")
	mu.Lock()
	defer mu.Unlock()
	require.Len(t, said, 1)
	require.Contains(t, said[0], "too long and was killed")
}

// TestTheHookOfAnEndSaysWhatIsLeft: the heat, the blade and the oven, as far as is known.
func TestTheHookOfAnEndSaysWhatIsLeft(t *testing.T) {
	p := newPerson(t)
	got := filepath.Join(p.home, "got")
	script := p.write("ring", "#!/bin/sh\ncat >>"+got+"\n")
	require.NoError(t, os.Chmod(script, 0o700))
	path := p.write("shop.toml", "unit = \"F\"\non_done = [\""+script+"\"]\n")
	h := &host{env: p.command().Env}
	b, err := h.shopFiles(path)
	require.NoError(t, err)
	k, err := newHooks(b, func(string) {})
	require.NoError(t, err)
	k.off = "heat off commanded"
	hot := 204.0
	k.record("kitchen", control.Record{Event: &control.Event{Kind: control.EvEnd, Word: "late",
		Text: "the longest total time is over", Load: control.LoadIn, TempC: &hot}})
	k.record("kitchen", control.Record{Event: &control.Event{Kind: control.EvEnd, Word: "done",
		Text: "the profile is done"}})
	k.end()
	var lines []string
	require.Eventually(t, func() bool {
		text, err := os.ReadFile(got)
		lines = strings.Split(strings.TrimSpace(string(text)), "\n")
		return err == nil && len(lines) == 2
	}, patience, 5e6)
	require.JSONEq(t, `{"event":"done","run":"kitchen","t_s":0,"word":"late","temp_c":204,`+
		`"blade_in":true,"do":"Take the blade out.","text":"the longest total time is over; heat off `+
		`commanded; the blade is still in the oven, as far as is known; the oven still reads 399 °F"}`,
		lines[0])
	require.JSONEq(t, `{"event":"done","run":"kitchen","t_s":0,"word":"done",`+
		`"text":"the profile is done; heat off commanded"}`, lines[1])
}

// TestHooksGoByTheRunsOwnName: and a run whose port does not open, which is tried again every 10 s
// for as long as it takes, leaves no goroutine behind.
func TestHooksGoByTheRunsOwnName(t *testing.T) {
	p := newPerson(t)
	got := filepath.Join(p.home, "got")
	script := p.write("ring", "#!/bin/sh\ncat >>"+got+"\n")
	require.NoError(t, os.Chmod(script, 0o700))
	path := p.write("shop.toml", `on_done = ["`+script+`"]`+"\n")
	h := &host{env: p.command().Env, err: io.Discard}
	var m keeper.Made
	before := runtime.NumGoroutine()
	for range 50 {
		m = keeper.Made{Config: keeper.Config{Run: "temper"}}
		require.NoError(t, h.hooked(&runFlags{shop: path}, &m))
		m.Named("temper-2")
	}
	require.Less(t, runtime.NumGoroutine(), before+25)
	m.Config.Records(control.Record{Event: &control.Event{Kind: control.EvEnd, Word: "done"}})
	require.NoError(t, m.After(keeper.Result{}))
	require.Eventually(t, func() bool {
		text, err := os.ReadFile(got)
		return err == nil && strings.Contains(string(text), `"run":"temper-2"`)
	}, patience, 5e6)
}
