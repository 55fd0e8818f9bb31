package main

import (
	"errors"
	"fmt"
	"io/fs"

	"strawline/control/shop"
	"strawline/tui"
)

// calls says how a screen calls a person who does not look at it: as the shop file at path says
// when the screen comes up. That of a kept run is the file of the keeper that it watches, which is
// on this machine. Without a shop file, and with one that cannot be read, it does not.
func (h *host) calls(path string) tui.Call {
	s, err := shop.Load(path)
	if err != nil {
		if !errors.Is(err, fs.ErrNotExist) {
			fmt.Fprintf(h.err, "strawline: no bell, title or notification: %s\n", oneLine(err.Error()))
		}
		return tui.Call{}
	}
	return tui.Call{Bell: s.Bell, Title: s.Title, Notify: s.Notify}
}
