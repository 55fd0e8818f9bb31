package board

import "time"

// Ahead is how far a new command number may be ahead of the last accepted one.
const Ahead = 8

// Times of the protocol, on the board's own clock.
const (
	DeadManAfter = 3 * time.Second  // from the last accepted command to the latch host silent
	CommitWithin = 10 * time.Second // from an accepted Propose to its Commit
)

// StartOf gives the last accepted command number that the boot line numbered boot sets:
// boot times 40503 in 16 bits (40503 is 65536 over the golden ratio, made odd), so that
// numbers of one start are 25033 or more away from the first ones of the next.
func StartOf(boot uint16) uint16 { return boot * 40503 }

// Numbers is the rule of the number window. The zero value has 0 as last accepted number.
type Numbers struct{ last uint16 }

// Start makes seq the last accepted number.
func (n *Numbers) Start(seq uint16) { n.last = seq }

// Last gives the last accepted number.
func (n *Numbers) Last() uint16 { return n.last }

// Next gives the number that a host sends after the last accepted one.
func (n *Numbers) Next() uint16 { return n.last + 1 }

// Fits reports whether seq is 1 to 8 ahead of the last accepted number, round the end of
// 16 bits, and changes nothing.
func (n *Numbers) Fits(seq uint16) bool {
	ahead := seq - n.last
	return ahead >= 1 && ahead <= Ahead
}

// Accept makes seq the last accepted number if it fits, and reports whether it did.
func (n *Numbers) Accept(seq uint16) bool {
	if !n.Fits(seq) {
		return false
	}
	n.last = seq
	return true
}

// Command is the accepted duty with its dead man. The zero value commands 0.
type Command struct {
	perMille uint16
	fed      time.Duration
}

// PerMille gives the accepted duty, 0 to 1000.
func (c *Command) PerMille() uint16 { return c.perMille }

// Take judges d at now by the number window and sets the accepted duty. With hold (a latch
// is set) the duty stays 0. It reports whether the line counts as accepted; see the package
// comment for duty 0.
func (c *Command) Take(now time.Duration, n *Numbers, d Duty, hold bool) bool {
	fresh := n.Accept(d.Seq)
	if !fresh && d.PerMille != 0 {
		return false
	}
	c.perMille = d.PerMille
	if hold {
		c.perMille = 0
	}
	if fresh {
		c.fed = now
	}
	return true
}

// Off sets the accepted duty to 0, as every latch does.
func (c *Command) Off() { c.perMille = 0 }

// Silent reports whether at now the dead man must latch: duty above 0 and 3 s or more
// since the last accepted new command.
func (c *Command) Silent(now time.Duration) bool {
	return c.perMille > 0 && now-c.fed >= DeadManAfter
}

// Change is the two-step change of the stored settings. The zero value has no proposal.
type Change struct {
	open   bool
	at     time.Duration
	check  uint16
	stored Stored
}

// Propose judges the first step at now for a board with so many channels and such a
// ceiling, in quarter degrees, while perMille is the accepted duty. The proposal stands only
// with ResultDone.
func (c *Change) Propose(now time.Duration, p Propose, perMille uint16,
	channels uint8, ceilingQ int16) Result {
	c.Forget()
	if perMille > 0 {
		return ResultHeating
	}
	if p.Stored.Valid() != nil || p.Stored.Guard > channels || p.Stored.LimitQ > ceilingQ {
		return ResultRange
	}
	*c = Change{open: true, at: now, check: p.Check(), stored: p.Stored}
	return ResultDone
}

// Commit judges the second step at now and forgets the proposal. The settings are to be
// stored only with ResultDone.
func (c *Change) Commit(now time.Duration, m Commit, perMille uint16) (Stored, Result) {
	was := *c
	c.Forget()
	switch {
	case perMille > 0:
		return Stored{}, ResultHeating
	case !was.open || m.Check != was.check || now-was.at > CommitWithin:
		return Stored{}, ResultCheck
	}
	return was.stored, ResultDone
}

// Forget drops the proposal, as a Duty above 0 does.
func (c *Change) Forget() { *c = Change{} }
