package keeper

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"syscall"

	"strawline/control/attach"
)

// Unfinished is a run that was going on when its keeper was last heard of.
type Unfinished struct {
	Name string     `json:"name"`
	Out  string     `json:"out"` // path of the run file
	Port string     `json:"port"`
	Job  attach.Job `json:"job"`
	why  string     // it could not be taken up

	give  context.CancelFunc // ends the trying
	ended chan struct{}      // closed when that has ended
}

// keep writes down which runs have not ended, so that the next keeper finds them. A disk that
// does not take it costs the recovery, not the run.
func (h *House) keep() {
	h.mu.Lock()
	defer h.mu.Unlock()
	list := []Unfinished{}
	for _, r := range h.runs {
		if r.k != nil {
			list = append(list, Unfinished{Name: r.name, Out: r.k.Out(), Port: r.port, Job: r.job})
		}
	}
	for _, u := range h.left {
		if !slices.ContainsFunc(list, func(x Unfinished) bool { return x.Name == u.Name }) {
			list = append(list, u)
		}
	}
	if err := writeKept(h.cfg.Kept, list); err != nil {
		h.cfg.Say(fmt.Sprintf("a killed keeper could not be recovered from: %v", err))
	}
}

// writeKept replaces the file whole, by rename, or takes it away where nothing is to be kept. The
// name beside it is always the same: one keeper at a time has the seat, and what a killed one left
// there is written over.
func writeKept(path string, list []Unfinished) error {
	if len(list) == 0 {
		err := os.Remove(path)
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		return err
	}
	text, err := json.MarshalIndent(list, "", "  ")
	if err != nil {
		return err
	}
	f, err := os.OpenFile(path+".new", os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(append(text, '\n'))
	if err = errors.Join(err, f.Sync(), f.Close()); err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		os.Remove(f.Name())
		return err
	}
	return syncFolder(filepath.Dir(path))
}

// syncFolder has a rename outlive a power cut.
func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer d.Close()
	if err := d.Sync(); !errors.Is(err, errors.ErrUnsupported) && !errors.Is(err, syscall.EINVAL) {
		return err
	}
	return nil // a file system that has no such thing
}

// ReadKept gives the runs that a keeper left unfinished; none where there is no such file.
func ReadKept(path string) ([]Unfinished, error) {
	text, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var list []Unfinished
	if err := json.Unmarshal(text, &list); err != nil {
		return nil, fmt.Errorf("read %s: %w", path, err)
	}
	return list, nil
}
