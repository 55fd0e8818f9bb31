package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"sync"
	"time"

	"strawline/control"
	"strawline/control/alarm"
	"strawline/probe/temp"
)

// How hooks are held. Our choices.
const (
	hookLimit = 10 * time.Second // then a hook is killed
	hookQueue = 32               // that wait; more are left out
)

// hook is what a hook gets on its standard input, one JSON object on a line.
type hook struct {
	Event string  `json:"event"` // "alarm" or "done"
	Run   string  `json:"run"`
	T     float64 `json:"t_s"` // since the run began
	Code  string  `json:"code,omitempty"`
	Word  string  `json:"word"` // "OVER LIMIT"; of a run's end: done, stopped, tripped, late
	Text  string  `json:"text"`
	Do    string  `json:"do,omitempty"`
	// Of a run's end, which says in Text what stands of the heat and what is left in the oven.
	TempC   *float64 `json:"temp_c,omitempty"`   // as the oven's air read; absent if it did not
	BladeIn bool     `json:"blade_in,omitempty"` // as far as is known
}

// hooks run the person's own commands at alarms and at the end of a run, one after another in a
// goroutine of their own: whoever tells of an event never waits.
type hooks struct {
	alarm, done []string
	say         func(string)
	limit       time.Duration
	off         string    // what stands of the heat when a run ends
	unit        temp.Unit // of the temperatures in words
	queue       chan hook
	last        chan struct{} // closed at the end of the run
	over        sync.Once
	begin       sync.Once // of the goroutine: a run that never began has none
	table       alarm.Table
}

// newHooks gives nil where the shop file has none or may not have any: it must be the person's
// own and not writable by others, since its commands run with the person's rights.
func newHooks(b *shopFiles, say func(string)) (*hooks, error) {
	if b == nil || len(b.shop.OnAlarm)+len(b.shop.OnDone) == 0 {
		return nil, nil
	}
	st, err := os.Stat(b.path)
	if err != nil {
		return nil, err
	}
	if st.Mode().Perm()&0o022 != 0 || !ownFile(st) {
		return nil, fmt.Errorf("the hooks of %s are not run: it must be yours and writable by "+
			"nobody else", b.path)
	}
	return &hooks{alarm: b.shop.OnAlarm, done: b.shop.OnDone, say: say, limit: hookLimit,
		unit: b.shop.Unit, queue: make(chan hook, hookQueue),
		last: make(chan struct{}), table: alarm.First()}, nil
}

// record looks whether a record is worth a hook.
func (h *hooks) record(run string, r control.Record) {
	e := r.Event
	if e == nil {
		return
	}
	k := hook{Run: run, T: e.T.Seconds()}
	switch {
	case e.Kind == control.EvAlarm && e.Word == alarm.B.String():
		i := h.table.Index(e.Code)
		if i < 0 {
			return
		}
		d := h.table[i]
		k.Event, k.Code, k.Word, k.Text, k.Do = "alarm", e.Code, d.Word, d.Cause, d.Do
	case e.Kind == control.EvEnd:
		k.Event, k.Word, k.TempC, k.BladeIn = "done", e.Word, e.TempC, e.Load == control.LoadIn
		var words []string
		for _, w := range []string{e.Text, h.off, e.Left(h.unit)} {
			if w != "" {
				words = append(words, w)
			}
		}
		k.Text = strings.Join(words, "; ")
		switch {
		case k.BladeIn && e.Word == "tripped": // an alarm may say that nobody is to open the door
			k.Do = "Look at the oven and its alarms first. Then see to the blade."
		case k.BladeIn:
			k.Do = "Take the blade out."
		}
	default:
		return
	}
	if !h.put(k) {
		h.say("a hook was left out: too many wait")
	}
}

// end lets the goroutine go when it has done what waits.
func (h *hooks) end() { h.over.Do(func() { close(h.last) }) }

// put has one more wait; false if there is no room.
func (h *hooks) put(k hook) bool {
	h.begin.Do(func() { go h.run() })
	select {
	case h.queue <- k:
		return true
	default:
		return false
	}
}

func (h *hooks) run() {
	for {
		var k hook
		select {
		case k = <-h.queue:
		case <-h.last: // nothing comes any more; what waits is done first
			select {
			case k = <-h.queue:
			default:
				return
			}
		}
		args := h.alarm
		if k.Event == "done" {
			args = h.done
		}
		if len(args) == 0 {
			continue
		}
		if err := h.one(args, k); err != nil {
			h.say(fmt.Sprintf("the hook %s: %s", args[0], oneLine(err.Error())))
		}
	}
}

// one runs one hook, without a shell, and kills it when it takes too long.
func (h *hooks) one(args []string, k hook) error {
	text, err := json.Marshal(k)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(context.Background(), h.limit)
	defer cancel()
	cmd := exec.CommandContext(ctx, args[0], args[1:]...)
	cmd.Stdin = bytes.NewReader(append(text, '\n'))
	cmd.Dir = string(os.PathSeparator)
	cmd.WaitDelay = time.Second // a child of its that keeps a pipe open
	err = cmd.Run()
	if ctx.Err() != nil {
		return errors.New("it took too long and was killed")
	}
	return err
}
