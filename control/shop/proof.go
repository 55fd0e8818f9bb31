package shop

import (
	"fmt"
	"time"

	"strawline/probe"
	"strawline/probe/temp"
)

// Part is one of what takes the heat away without the program.
type Part string

// The parts, as their lists in found.toml are called.
const (
	PartLimit   Part = "proof_limit"    // the board's stored high limit
	PartDeadMan Part = "proof_dead_man" // the board's dead man, with the port open
	PartCable   Part = "proof_cable"    // the cable pulled while heat was commanded
	PartCutOut  Part = "proof_cut_out"  // the oven's independent cut-out, by the person's word
)

// Parts gives all of them, in the order in which they are walked through.
func Parts() []Part { return []Part{PartLimit, PartDeadMan, PartCable, PartCutOut} }

// String gives a person's word for the part.
func (p Part) String() string {
	switch p {
	case PartLimit:
		return "limit"
	case PartDeadMan:
		return "dead man"
	case PartCable:
		return "cable"
	case PartCutOut:
		return "cut-out"
	}
	return string(p)
}

// Proven is what became of a proof.
type Proven string

// The results. Only the first is a proof.
const (
	Passed  Proven = "passed"
	Failed  Proven = "failed"
	NotDone Proven = "not done" // left out, broken off, or it showed nothing
)

// Proof is the last try to prove a part of a board; the entry's date is its day.
type Proof struct {
	Result Proven
	Seen   string // what was commanded, what the board said and what the person saw, in one line
	Port   string // "" if it was a simulated one
	Board  string // what the board called itself
	Limit  temp.C // high limit that the board has stored, true at a 25 °C cold junction; 0 unknown
	// Last is the day on which it passed last, with the name and limit of then; zero if it never
	// did, or failed since.
	Last      Date
	LastBoard string
	LastLimit temp.C
}

// Lowered says that a proof was about to lower a board's stored limit; it goes when the board has
// read back that it has its settings again. While it stands, nobody knows which the board has.
type Lowered struct {
	Port   string
	Board  string         // what the board calls itself
	To     temp.C         // what the limit was to be lowered to
	Before probe.Settings // what the board had; without LimitQ
}

// PutProof gives the list with what a try showed. One that was not done leaves the last pass
// standing, since nothing speaks against it; one that failed does not.
func PutProof(list []Entry[Proof], e Entry[Proof]) []Entry[Proof] {
	v := &e.Value
	v.Last, v.LastBoard, v.LastLimit = Date{}, "", 0
	switch was := Get(list, e.Of); {
	case v.Result == Passed:
		v.Last, v.LastBoard, v.LastLimit = e.Date, v.Board, v.Limit
	case v.Result == NotDone && was != nil && was.Value.Result == Failed:
		return list // a failed part stays failed until it passes
	case v.Result == NotDone && was != nil:
		v.Last, v.LastBoard, v.LastLimit = was.Value.Last, was.Value.LastBoard, was.Value.LastLimit
	}
	return Put(list, e)
}

// proofKeys are those of a proof's entry.
func proofKeys() []string {
	return []string{"result", "seen", "port", "board", "limit", "last", "last_board", "last_limit"}
}

func (t table) proof() Proof {
	t.need("a proof", "result", "board")
	p := Proof{
		Result: Proven(t.one("result", "", string(Passed), string(Failed), string(NotDone))),
		Seen:   t.words("seen", `"the board said high limit"`),
		Port:   t.words("port", `"/dev/ttyUSB0"`), Board: t.words("board", `"straw-uno"`),
		LastBoard: t.words("last_board", `"straw-uno"`),
	}
	if t.has("limit") {
		p.Limit, _, _ = t.tempIn("limit", Coldest, Hottest)
	}
	if t.has("last_limit") {
		p.LastLimit, _, _ = t.tempIn("last_limit", Coldest, Hottest)
	}
	if t.has("last") {
		p.Last = t.date("last")
	}
	if p.Result == Passed && !t.has("last") {
		t.fail("result", "a proof that passed has the day of it under last")
	}
	return p
}

func (p *pen) proof(v Proof) {
	p.text("result", string(v.Result))
	p.text("seen", v.Seen)
	p.text("port", v.Port)
	p.text("board", v.Board)
	if v.Limit != 0 {
		p.temp("limit", v.Limit)
	}
	p.date("last", v.Last)
	p.text("last_board", v.LastBoard)
	if v.LastLimit != 0 {
		p.temp("last_limit", v.LastLimit)
	}
}

// What a board of our protocol can have stored.
const (
	boardWindowLeast = 2 * time.Second
	boardWindowMost  = 60 * time.Second
)

func (t table) lowered() Lowered {
	t.need("a lowered limit", "board", "to", "limit", "guard", "window", "mains")
	l := Lowered{Port: t.words("port", `"/dev/ttyUSB0"`), Board: t.words("board", `"straw-uno"`)}
	l.To, _, _ = t.tempIn("to", Coldest, Hottest)
	l.Before.Limit, _, _ = t.tempIn("limit", Coldest, Hottest)
	l.Before.Guard = t.whole("guard", 0, 1, MaxChannel)
	l.Before.Window = t.span("window", boardWindowLeast, boardWindowMost)
	if t.one("mains", "", "50Hz", "60Hz") == "60Hz" {
		l.Before.MainsHz = 60
	} else {
		l.Before.MainsHz = 50
	}
	return l
}

func (p *pen) lowered(l Lowered) {
	p.text("port", l.Port)
	p.text("board", l.Board)
	p.temp("to", l.To)
	p.temp("limit", l.Before.Limit)
	p.whole("guard", l.Before.Guard)
	p.span("window", l.Before.Window)
	p.text("mains", fmt.Sprintf("%dHz", l.Before.MainsHz))
}

// Proofs gives the list of a part.
func (f *Found) Proofs(p Part) *[]Entry[Proof] {
	switch p {
	case PartLimit:
		return &f.ProofLimits
	case PartDeadMan:
		return &f.ProofDeadMen
	case PartCable:
		return &f.ProofCables
	}
	return &f.ProofCutOuts
}
