package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime/debug"
	"strings"
	"time"

	"strawline/control/attach"
	"strawline/control/keeper"
)

// seat is where the keeper of one shop file is found.
type seat struct {
	shop   string // path of the shop file, whether there is one or not
	socket string
	log    string
	kept   string // which runs have not ended
}

// stateFolder is where socket, lock and log of the keepers are, after the XDG base directory
// specification; not the login's runtime folder, which goes away when the person logs out.
func (h *host) stateFolder() string {
	if d := h.getenv("XDG_STATE_HOME"); filepath.IsAbs(d) {
		return filepath.Join(d, "strawline")
	}
	return filepath.Join(h.getenv("HOME"), ".local", "state", "strawline")
}

// seat gives the seat of the keeper of a shop file; "" is the usual one.
func (h *host) seat(asked string) (seat, error) {
	path, err := filepath.Abs(h.shopPath(asked))
	if err != nil {
		return seat{}, fileFault("find", h.shopPath(asked), err)
	}
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real // two names of one file have one keeper
	}
	sum := sha256.Sum256([]byte(path))
	stem := filepath.Join(h.stateFolder(), "keeper-"+hex.EncodeToString(sum[:4]))
	return seat{shop: path, socket: stem + ".sock", log: stem + ".log", kept: stem + ".runs"}, nil
}

// door is where that keeper answers.
func (h *host) door(p seat) attach.Door {
	return attach.Door{Path: p.socket, Now: time.Now,
		Me: attach.Hello{Build: buildWords(), Name: h.terminal()}}
}

// buildWords names this build.
func buildWords() string {
	info, known := debug.ReadBuildInfo()
	if !known {
		return "unknown"
	}
	v := versionOf(info)
	words := v.Version
	if len(v.Revision) >= 12 {
		words += " " + v.Revision[:12]
	}
	return words
}

// terminal is what other screens call this one: "pts/3".
func (h *host) terminal() string {
	if f, ok := h.in.(*os.File); ok {
		if name, err := os.Readlink(fmt.Sprintf("/proc/self/fd/%d", f.Fd())); err == nil {
			if tty, is := strings.CutPrefix(name, "/dev/"); is {
				return tty
			}
		}
	}
	return fmt.Sprintf("process %d", os.Getpid())
}

// startLimit is how long a keeper may take until it answers.
const startLimit = 10 * time.Second

// reach gives the door of the shop's keeper, and starts one where none answers.
func (h *host) reach(ctx context.Context, p seat, asRoot bool) (attach.Door, error) {
	d := h.door(p)
	_, err := d.Look(ctx)
	if !errors.Is(err, attach.ErrNobody) {
		return d, h.doorFault(p, err)
	}
	if err := os.MkdirAll(filepath.Dir(p.log), 0o700); err != nil {
		return d, &fault{code: exitCannotMake, did: "make the folder", to: filepath.Dir(p.log),
			wrong: err, help: "set XDG_STATE_HOME to a folder of yours"}
	}
	if _, err := attach.Stands(p.socket); err != nil { // which its log alone would say
		return d, h.doorFault(p, err)
	}
	ended, err := h.spawn(p, asRoot)
	if err != nil {
		return d, &fault{code: exitCannotMake, did: "start", to: "the keeper", wrong: err,
			help: "run it with --plain, or start strawline keep by hand"}
	}
	ctx, cancel := context.WithTimeout(ctx, startLimit)
	defer cancel()
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	for {
		if _, err = d.Look(ctx); err == nil {
			return d, nil
		}
		select {
		case <-ctx.Done():
		case <-tick.C:
			continue
		case <-ended: // another one may have been quicker
			if _, err = d.Look(ctx); err == nil {
				return d, nil
			}
		}
		return d, &fault{code: exitUnavailable, did: "start", to: "the keeper", wrong: err,
			help: "its log is " + p.log}
	}
}

// spawn starts the keeper as a process of its own, which outlives this one and its terminal.
func (h *host) spawn(p seat, asRoot bool) (ended <-chan struct{}, err error) {
	exe, err := os.Executable()
	if err != nil {
		return nil, err
	}
	const mostLog = 1 << 20
	if st, err := os.Stat(p.log); err == nil && st.Size() > mostLog {
		if err := os.Rename(p.log, p.log+".old"); err != nil {
			return nil, err
		}
	}
	log, err := os.OpenFile(p.log, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		return nil, err
	}
	defer log.Close()
	args := []string{"keep", "--until-idle", "--shop", p.shop}
	if asRoot {
		args = append(args, "--as-root")
	}
	cmd := exec.Command(exe, args...)
	cmd.Env, cmd.Dir = h.env, string(filepath.Separator)
	cmd.Stdout, cmd.Stderr, cmd.SysProcAttr = log, log, detached()
	if err := cmd.Start(); err != nil {
		return nil, err
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		_ = cmd.Wait() // its log says why
	}()
	return done, nil
}

// doorFault finds the exit code of what stands between a screen and its keeper.
func (h *host) doorFault(p seat, err error) error {
	var no *attach.Refusal
	f := &fault{code: exitIO, did: "reach", to: "the keeper of " + p.shop, wrong: err}
	switch {
	case err == nil:
		return nil
	case errors.As(err, &no):
		return &fault{code: no.Code, wrong: errors.New(no.Text)}
	case errors.Is(err, attach.ErrNobody):
		f.code, f.help = exitUnavailable, "no run of this shop file goes on in a keeper; "+
			"strawline run starts one"
	case errors.Is(err, attach.ErrVersion), errors.Is(err, attach.ErrTaken):
		f.code = exitTemporary
	case errors.Is(err, attach.ErrLong), errors.Is(err, attach.ErrInTheWay),
		errors.Is(err, attach.ErrFolder):
		f.code = exitCannotMake
	}
	return f
}

// unfinished gives what a keeper that is gone left; what cannot be read is left to the keeper.
func (p seat) unfinished() []keeper.Unfinished {
	list, err := keeper.ReadKept(p.kept)
	if err != nil {
		return nil
	}
	return list
}
