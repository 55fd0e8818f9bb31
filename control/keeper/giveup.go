package keeper

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"strawline/control"
	"strawline/control/attach"
	"strawline/control/runlog"
)

// GiveUp ends an unfinished run that cannot be taken up: nobody tries any more, and its run file
// says so. A run that goes on is refused: it is stopped, heat off commanded, by a screen's ask.
func (h *House) GiveUp(ctx context.Context, run string) (attach.Outcome, error) {
	h.mu.Lock()
	i := slices.IndexFunc(h.left, func(u Unfinished) bool { return u.Name == run })
	if i < 0 || h.left[i].why == "" {
		h.mu.Unlock()
		return attach.Outcome{}, refused(temporary, "the run %s is not one that cannot be taken up", run)
	}
	u := h.left[i]
	h.left = slices.Delete(h.left, i, i+1)
	h.mu.Unlock()
	u.give()
	select {
	case <-u.ended:
	case <-ctx.Done(): // nobody tries any more all the same
	}
	h.mu.Lock()
	meanwhile := slices.ContainsFunc(h.runs, func(r *held) bool { return r.name == run && !r.over() })
	h.mu.Unlock()
	if meanwhile {
		return attach.Outcome{}, refused(temporary, "the run %s was just taken up: stop it again", run)
	}
	o := attach.Outcome{Word: "stopped", Out: u.Out, Off: "no keeper commands its heat any more",
		Why: "given up by a person; it could not be taken up: " + u.why}
	var err error
	if o.Left, err = giveUp(u.Out, o.Why); err != nil {
		o.Unkept = "the end is not in the run file: " + firstLine(err)
	}
	h.keep()
	h.cfg.Say(fmt.Sprintf("run %s ended: %s", run, o.Why))
	return o, nil
}

// giveUp writes the end of a run that was cut off into its file, at the time of its last record,
// and gives what that leaves in the oven: the blade, as far as the file knows. How hot the oven is
// nobody knows.
func giveUp(path, why string) (left string, err error) {
	f, err := runlog.Open(path)
	if err != nil {
		return "", err
	}
	v := control.NewView(f.Info)
	for r, bad := range f.Records() {
		if bad != nil {
			err = bad
			break
		}
		v.Apply(r)
	}
	end := control.Event{T: f.Last, Kind: control.EvEnd, Word: "stopped", Text: why}
	if v.Snapshot().BladeIn {
		end.Load = control.LoadIn
	}
	left = end.Left(f.Info.TempUnit())
	if err = errors.Join(err, f.Close()); err != nil {
		return left, err
	}
	w, _, err := runlog.Recover(path)
	if err != nil {
		return left, err
	}
	for _, e := range []control.Event{end, {T: f.Last, Kind: control.EvClosed}} {
		err = errors.Join(err, w.Append(control.Record{Event: &e}))
	}
	return left, errors.Join(err, w.Close())
}
