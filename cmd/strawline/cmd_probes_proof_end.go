package main

import (
	"errors"
	"fmt"
	"strings"

	"strawline/control/shop"
	"strawline/probe"
)

// keep changes the found file, if there is one for this walk.
func (c *proving) keep(change func(*shop.Found)) error {
	if c.store == nil {
		return nil
	}
	err := c.store.Update(func(f *shop.Found) error {
		change(f)
		return nil
	})
	if err != nil {
		return &fault{code: exitIO, did: "keep the proof in", to: c.file, wrong: err}
	}
	return nil
}

// proofPart is one part in the answer.
type proofPart struct {
	Part   string `json:"part"`
	Result string `json:"result"`
	Seen   string `json:"seen,omitempty"`
}

// proofAnswer is what `probes proof --json` prints.
type proofAnswer struct {
	Board     string      `json:"board"`
	Port      string      `json:"port,omitempty"`
	Simulated bool        `json:"simulated"`
	LimitC    float64     `json:"limit_c"`
	Date      string      `json:"date"`
	Parts     []proofPart `json:"parts"`
	Latches   []string    `json:"latches"`
	File      string      `json:"file,omitempty"` // "" if nothing was kept
}

// mostSeen is how many characters of what was seen a found file takes.
const mostSeen = 200

// finish keeps and prints what became of the parts. walked is the error that ended the walk.
func (c *proving) finish(walked error) error {
	c.quiet()
	a := proofAnswer{Board: c.board.Name, Port: c.path, Simulated: c.sim != nil,
		LimitC: tenth(float64(c.board.Settings.Limit)), Date: c.today.String(),
		Latches: append([]string{}, c.last.Latches.Words()...)}
	if c.sim != nil {
		a.Port = ""
	}
	begun, bad := false, ""
	for _, p := range shop.Parts() {
		t, there := c.tried[p]
		if !there {
			t = notDone("not reached")
		}
		begun = begun || t.result != shop.NotDone
		if t.result == shop.Failed {
			bad = p.String()
		}
		a.Parts = append(a.Parts, proofPart{p.String(), string(t.result), t.seen})
	}
	begun = begun || walked != nil && len(c.tried) > 0
	if begun && c.store != nil {
		if err := c.keep(func(f *shop.Found) { c.record(f, a) }); err != nil {
			return errors.Join(walked, err)
		}
		a.File, c.kept = c.file, true
	}
	if err := c.print(a); err != nil {
		return err
	}
	if bad != "" && walked == nil {
		return &fault{code: exitData, did: "prove", to: "the " + bad + " of " + c.at,
			wrong: errors.New("FAILED"), help: "pull the plug and do not use it to heat"}
	}
	return nil
}

// record puts every part into what was found.
func (c *proving) record(f *shop.Found, a proofAnswer) {
	limit := c.board.Settings.Limit
	if c.lowered != nil {
		limit = c.lowered.Before.Limit // what it is to have again
	}
	for i, p := range shop.Parts() {
		e := shop.Entry[shop.Proof]{Of: c.of, Date: c.today, Run: c.heatRun, Value: shop.Proof{
			Result: shop.Proven(a.Parts[i].Result), Seen: a.Parts[i].Seen, Port: a.Port,
			Board: c.board.Name, Limit: limit}}
		if r := []rune(e.Value.Seen); len(r) > mostSeen {
			e.Value.Seen = string(r[:mostSeen-1]) + "…"
		}
		list := f.Proofs(p)
		*list = shop.PutProof(*list, e)
	}
}

// print answers on stdout.
func (c *proving) print(a proofAnswer) error {
	c.clear()
	if c.f.json {
		return c.h.printJSON(a)
	}
	var s strings.Builder
	if a.Simulated {
		s.WriteString("SIMULATED\n")
	}
	for _, p := range a.Parts {
		fmt.Fprintf(&s, "%-8s  %s\n", p.Part, tried{shop.Proven(p.Result), p.Seen}.words())
	}
	switch {
	case a.File != "":
		fmt.Fprintf(&s, "written to %s\n", a.File)
	default:
		s.WriteString("nothing was written\n")
	}
	if c.last.Latches != 0 {
		fmt.Fprintf(&s, "the board's latch stands: %s; it holds the heat off until it is reset or the "+
			"board starts again\n", c.last.Latches)
	}
	if c.last.Latches&probe.LatchHighLimit == 0 {
		s.WriteString("the limit and the dead man are of the board; your independent cut-out only you " +
			"can try\n")
	}
	return c.h.print(s.String())
}
