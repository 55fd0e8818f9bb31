package keeper

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"strawline/control"
	"strawline/control/attach"
	"strawline/control/runlog"
	"strawline/probe/belief"
	"strawline/probe/temp"
)

// file makes the run file and the engine of a run, or takes up those of one that was cut off.
func (k *Keeper) file(info control.Info) (w *runlog.Writer, err error) {
	if k.cfg.Resume {
		return k.takeUp(info)
	}
	if err := control.Check(info); err != nil {
		return nil, err
	}
	if w, err = k.create(info); err != nil {
		return nil, err
	}
	k.info = w.Info()
	k.engine, err = control.New(engineOf(k.info))
	return w, err // no error is reached: the same was checked
}

func engineOf(info control.Info) control.Config {
	return control.Config{Info: info, Belief: belief.Default(), Keep: runlog.RoundOwn}
}

// takeUp opens the run file of a run that was cut off. What its head says stands; the board that
// is there now must fit it.
func (k *Keeper) takeUp(now control.Info) (*runlog.Writer, error) {
	f, err := runlog.Open(k.cfg.Out)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	info := f.Info
	if was := info.Shop.Board; was != "" && was != now.Shop.Board {
		return nil, fmt.Errorf("another board is on the port: it calls itself %s, and the run began "+
			"with %s", now.Shop.Board, was)
	}
	seen := info
	seen.Shop.BoardLimC, seen.Shop.CeilingC = now.Shop.BoardLimC, now.Shop.CeilingC
	seen.Shop.Guard = now.Shop.Guard
	if err := control.Check(seen); err != nil {
		return nil, fmt.Errorf("the board is not as it was: %w", err)
	}
	records, err := f.All()
	if err != nil {
		return nil, err
	}
	k.info = info
	at := k.cfg.Clock.Wall().Sub(info.Start)
	if k.engine, err = control.Resume(engineOf(info), records, at); err != nil {
		return nil, err
	}
	lead := info.Shop.LeadChannel() - 1
	for _, r := range records {
		if s := r.Sample; s != nil {
			var v, set temp.C
			has := lead < len(s.Temp) && s.Temp[lead] != nil
			if has {
				v = temp.C(*s.Temp[lead])
			}
			if s.Set != nil {
				set = temp.C(*s.Set)
			}
			k.x.trace.Add(s.T, has, v, s.Set != nil, set)
		}
	}
	w, _, err := runlog.Recover(k.cfg.Out)
	return w, err
}

// retryEvery is how often a run whose port does not open is tried again.
const retryEvery = 10 * time.Second

// Recover takes up the runs that a keeper left unfinished: each is tripped, and a person decides.
// It returns at once; a run whose board is not there is tried again every 10 s.
func (h *House) Recover() error {
	list, err := ReadKept(h.cfg.Kept)
	if err != nil {
		return err
	}
	for _, u := range list {
		var ctx context.Context
		ctx, u.give = context.WithCancel(h.ctx)
		u.ended = make(chan struct{})
		h.mu.Lock()
		h.left = append(h.left, u)
		h.begun++ // until the first try is over
		h.wait.Add(1)
		h.mu.Unlock()
		go func() {
			defer h.wait.Done()
			defer close(u.ended)
			defer u.give()
			h.recover(ctx, u)
		}()
	}
	return nil
}

func (h *House) recover(ctx context.Context, u Unfinished) {
	told := ""
	for first := true; ; first = false {
		err := h.again(ctx, u)
		h.mu.Lock()
		if first {
			h.begun--
		}
		i := slices.IndexFunc(h.left, func(x Unfinished) bool { return x.Name == u.Name })
		if err != nil && !errors.Is(err, control.ErrOver) && i >= 0 {
			h.left[i].why = firstLine(err)
		} else if i >= 0 {
			h.left = slices.Delete(h.left, i, i+1)
		}
		h.mu.Unlock()
		switch {
		case err == nil, ctx.Err() != nil:
			return
		case errors.Is(err, control.ErrOver):
			h.keep()
			return
		case err.Error() != told:
			told = err.Error()
			h.cfg.Say(fmt.Sprintf("run %s is unfinished and cannot be taken up: %v", u.Name, err))
		}
		timer := time.NewTimer(retryEvery)
		select {
		case <-ctx.Done():
			timer.Stop()
			return
		case <-timer.C:
		}
	}
}

// again takes up one run.
func (h *House) again(ctx context.Context, u Unfinished) error {
	made, err := h.cfg.Make(u.Job, true)
	if err != nil {
		return err
	}
	made.Config.Run, made.Config.Out = u.Name, u.Out
	made.Config.Resume, made.Config.Numbered = true, false
	r, err := h.reserve(made.Config, u.Job)
	if err != nil {
		return err
	}
	made.named(r.name)
	k, err := Prepare(ctx, made.Config)
	if err != nil {
		h.forget(r)
		return err
	}
	h.hold(r, k, made)
	return nil
}

// unfinished lists the runs that could not be taken up; the lock is held.
func (h *House) unfinished() (list []attach.Run) {
	for _, u := range h.left {
		if !slices.ContainsFunc(h.runs, func(r *held) bool { return r.name == u.Name }) {
			phase := Cut
			if u.why == "" { // its first try is not over
				phase = Beginning
			}
			list = append(list, attach.Run{Name: u.Name, Phase: phase, Out: u.Out, Why: u.why})
		}
	}
	return list
}

// Phases of a run that has no engine.
const (
	Beginning control.Phase = "beginning"  // its board is waited for
	Cut       control.Phase = "unfinished" // its keeper was killed, and its board is not there
)
