package control

import (
	"fmt"
	"math"
	"time"

	"strawline/probe/temp"
)

// proofDays is after how many days a proof is asked for again: our choice.
const proofDays = 90

// loweredSlack is how far a board's counting in its chip's quarter degrees may be off what it was
// told, °C: twice what a quarter comes to.
const loweredSlack = 0.5

// proofCommand is how a person makes one.
const proofCommand = "strawline probes proof"

// Proofs says when what takes the heat away without the program was last proved.
type Proofs struct {
	Limit   ProofInfo `json:"limit"`
	DeadMan ProofInfo `json:"dead_man"`
	// Lowered is what a person must know of a limit that a proof lowered and did not see put back,
	// in one line; "" if there is none. LoweredC is what it was to be lowered to.
	Lowered  string  `json:"lowered,omitempty"`
	LoweredC float64 `json:"lowered_c,omitempty"`
}

// ProofInfo is the last proof of one part.
type ProofInfo struct {
	Date   string  `json:"date,omitempty"`    // day of the last pass, "2026-11-25"; "" for never
	Failed string  `json:"failed,omitempty"`  // day of the last try, if that failed
	Board  string  `json:"board,omitempty"`   // what the board called itself when it passed
	LimitC float64 `json:"limit_c,omitempty"` // and the high limit that it had; 0 unknown
}

// Failed says that a part failed the last time that it was tried.
func (p *Proofs) Failed() bool {
	part, _ := p.failed()
	return part != ""
}

// failed gives a part that failed, and the day of it; "" if none did.
func (p *Proofs) failed() (part, day string) {
	switch {
	case p == nil:
		return "", ""
	case p.Limit.Failed != "":
		return "limit", p.Limit.Failed
	case p.DeadMan.Failed != "":
		return "dead man", p.DeadMan.Failed
	}
	return "", ""
}

// ProofWords says in one line, as of a day, when the board's limit and dead man were last proved;
// due says that a person should do it again: never done, failed, more than 90 days ago (our
// choice), on a day that is yet to come by more than a time zone, or with another board or limit.
// Where nothing real is heated by the program, and in run files of before there were proofs, it
// says nothing.
func (in *Info) ProofWords(today time.Time) (words string, due bool) {
	if in == nil || in.Simulated || in.Shop.NoHeater || in.Shop.Proofs == nil {
		return "", false
	}
	p := in.Shop.Proofs
	l, d := p.Limit, p.DeadMan
	switch {
	case p.Lowered != "" && (in.Shop.BoardLimC == 0 ||
		math.Abs(in.Shop.BoardLimC-p.LoweredC) < loweredSlack):
		return p.Lowered, true
	case p.Failed():
		part, day := p.failed()
		return fmt.Sprintf("the board's %s FAILED its proof %s: do not use it; %s", part,
			daysAgo(day, today), proofCommand), true
	case l.Date == "" && d.Date == "":
		return "limit and dead man never proved: " + proofCommand, true
	case d.Date == "":
		words, due = fmt.Sprintf("limit last proved %s, dead man never", daysAgo(l.Date, today)), true
	case l.Date == "":
		words, due = fmt.Sprintf("dead man last proved %s, limit never", daysAgo(d.Date, today)), true
	case l.Date == d.Date:
		words = "limit and dead man last proved " + daysAgo(l.Date, today)
	default:
		words = fmt.Sprintf("limit last proved %s, dead man %s", daysAgo(l.Date, today),
			daysAgo(d.Date, today))
	}
	for _, one := range []ProofInfo{l, d} {
		if n, ok := daysSince(one.Date, today); ok && (n > proofDays || n < -1) {
			due = true
		}
	}
	if since := in.Shop.changed(l, in.Unit); since != "" {
		words, due = words+", "+since, true
	} else if since := in.Shop.changed(d, in.Unit); since != "" {
		words, due = words+", "+since, true
	}
	if due {
		words += ": " + proofCommand
	}
	return words, due
}

// changed says what is another since a proof, "" if nothing is known to be.
func (s Shop) changed(p ProofInfo, unit string) string {
	u := temp.Celsius
	if unit == "F" {
		u = temp.Fahrenheit
	}
	switch {
	case p.Date == "" || s.Board == "":
		return ""
	case p.Board != s.Board:
		return "of another board, " + p.Board
	case p.LimitC != 0 && s.BoardLimC != 0 && math.Abs(p.LimitC-s.BoardLimC) > 0.01:
		return "with another limit, " + temp.C(p.LimitC).Text(u, 0)
	}
	return ""
}

// daysSince counts the days of the calendar from day to today; ok is false if day is none.
func daysSince(day string, today time.Time) (n int, ok bool) {
	was, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return 0, false
	}
	y, m, d := today.Date()
	return int(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Sub(was).Hours() / 24), true
}

func daysAgo(day string, today time.Time) string {
	switch n, ok := daysSince(day, today); {
	case !ok:
		return "on " + day
	case n < 0:
		return "on " + day + ", which is after today"
	case n == 0:
		return "today"
	case n == 1:
		return "1 day ago"
	default:
		return fmt.Sprintf("%d days ago", n)
	}
}
