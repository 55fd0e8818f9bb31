package main

import (
	"bytes"
	"errors"
	"io"
	"os/exec"
	"strings"
)

// awake keeps the computer from going to sleep by itself while a run goes on, where systemd's
// inhibitor is there and allows it. A lid or a person may still put it to sleep: that is noticed.
type awake struct {
	say   func(string)
	find  func(string) (string, error) // exec.LookPath
	held  io.Closer                    // what ends the child, which waits for the end of its input
	ended chan error
	told  bool // that it cannot be done
}

const inhibitor = "systemd-inhibit"

// want is called now and then with whether a run goes on.
func (a *awake) want(busy bool) {
	select {
	case err := <-a.ended:
		a.held, a.ended = nil, nil
		a.cannot(err)
	default:
	}
	switch {
	case busy && a.held == nil && !a.told:
		a.hold()
	case !busy && a.held != nil:
		a.let()
	}
}

func (a *awake) cannot(err error) {
	if err != nil && !a.told {
		a.told = true
		a.say("the computer is not kept from sleeping: " + oneLine(err.Error()))
	}
}

func (a *awake) hold() {
	path, err := a.find(inhibitor)
	if err != nil {
		a.cannot(errors.New("there is no " + inhibitor + " here"))
		return
	}
	// cat ends with its input, also when the keeper is killed.
	cmd := exec.Command(path, "--what=sleep:idle", "--who=strawline", "--why=a run goes on",
		"--mode=block", "cat")
	var bad bytes.Buffer
	cmd.Stderr = &bad
	in, err := cmd.StdinPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		a.cannot(err)
		return
	}
	ended := make(chan error, 1)
	a.held, a.ended = in, ended
	go func() {
		err := cmd.Wait()
		if text := strings.TrimSpace(bad.String()); err != nil && text != "" {
			err = errors.New(text)
		}
		ended <- err
	}()
}

// let allows the computer to sleep again.
func (a *awake) let() {
	if a.held == nil {
		return
	}
	a.held.Close()
	<-a.ended
	a.held, a.ended = nil, nil
}
