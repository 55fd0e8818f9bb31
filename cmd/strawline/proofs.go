package main

import (
	"fmt"

	"strawline/control"
	"strawline/control/shop"
	"strawline/probe"
)

// proofsOf puts what the found file has on a board into the head of a run.
func proofsOf(f shop.Found, board string) *control.Proofs {
	p := &control.Proofs{Limit: proofInfo(shop.Get(f.ProofLimits, board)),
		DeadMan: proofInfo(shop.Get(f.ProofDeadMen, board))}
	if e := shop.Get(f.Lowered, board); e != nil {
		p.Lowered, p.LoweredC = loweredWords(*e), float64(e.Value.To)
	}
	return p
}

func proofInfo(e *shop.Entry[shop.Proof]) (i control.ProofInfo) {
	switch {
	case e == nil:
	case e.Value.Result == shop.Failed:
		i.Failed = e.Date.String()
	default:
		i = control.ProofInfo{Date: e.Value.Last.String(), Board: e.Value.LastBoard,
			LimitC: float64(e.Value.LastLimit)}
	}
	return i
}

// proofsOn gives the proofs of the board on a port, for who has no shop file. A found file that
// cannot be read says nothing; `probes proof` says what is wrong with it.
func (h *host) proofsOn(port string) *control.Proofs {
	f, err := shop.NewStore(shop.FoundPath(h.shopPath(""))).Load()
	if err != nil {
		return nil
	}
	of := ""
	for _, p := range shop.Parts() {
		for _, e := range *f.Proofs(p) {
			if e.Value.Port == port {
				of = e.Of
			}
		}
	}
	for _, e := range f.Lowered {
		if e.Value.Port == port {
			of = e.Of
		}
	}
	return proofsOf(f, of)
}

// backByHand takes the note of a lowered limit away once `probes board` has seen the board with
// the settings of before; where it has others, it is said what they were.
func (h *host) backByHand(path string, b *probe.Board) error {
	store := shop.NewStore(shop.FoundPath(h.shopPath("")))
	f, err := store.Load()
	if err != nil {
		return &fault{code: exitData, wrong: err}
	}
	for _, e := range f.Lowered {
		switch v := e.Value; {
		case v.Board != b.Name || v.Port != path:
		case !alike(b.Settings, v.Before):
			fmt.Fprintf(h.err, "%s; or %s\n", loweredWords(e), handWords(path, v.Before))
		default:
			return store.Update(func(f *shop.Found) error {
				f.Lowered = shop.Drop(f.Lowered, e.Of)
				return nil
			})
		}
	}
	return nil
}

// loweredWords says what a proof left behind.
func loweredWords(e shop.Entry[shop.Lowered]) string {
	return fmt.Sprintf("a proof of %v lowered the board's limit to %.0f °C (%.0f °F) and has not "+
		"seen it put back: strawline probes proof does it", e.Date, float64(e.Value.To), e.Value.To.F())
}
