package sim

import (
	"time"

	"strawline/probe"
	"strawline/probe/board"
)

// badToLatch is the count of bad conversions in a row that latches.
const badToLatch = 4

// eeprom is what the board keeps without power.
type eeprom struct {
	stored   board.Stored
	readable bool
	boots    uint16
}

// firmware is the board's program since its last start. Time is the simulation's.
type firmware struct {
	fixed   board.About // name, chip, channels and ceiling
	keep    *eeprom
	broken  Broken
	started time.Duration

	dec     board.Decoder
	numbers board.Numbers
	command board.Command
	change  board.Change
	window  window

	latches probe.Latch
	bad     int   // bad conversions of the guard channel in a row
	guardQ  int16 // its last good one, quarter degrees
	seen    bool  // it had one since the start
	refused uint8
	seq     uint16
	out     []byte
}

// boot starts the program at now and says so.
func (f *firmware) boot(now time.Duration, cause board.Cause) {
	keep, fixed, out := f.keep, f.fixed, f.out
	fixed.Cause = cause
	*f = firmware{fixed: fixed, keep: keep, broken: f.broken, started: now, out: out}
	f.numbers.Start(board.StartOf(keep.boots))
	if !keep.readable {
		f.latches = probe.LatchConfig
	}
	f.out = append(f.out, "\r\n"...)
	f.say(board.Boot{About: f.about()})
}

func (f *firmware) about() board.About {
	a := f.fixed
	a.Version, a.Boot, a.Stored, a.Latches = board.Version, f.keep.boots, f.stored(), f.latches
	return a
}

// stored gives the settings in force: the compiled ones where the stored ones are unreadable,
// which only fill the lines then, since the latch holds the heater off.
func (f *firmware) stored() board.Stored {
	if f.keep.readable {
		return f.keep.stored
	}
	return board.Stored{Guard: 1, LimitQ: f.fixed.CeilingQ, WindowS: 2, MainsHz: 50}
}

func (f *firmware) say(fr board.Frame) { f.out = board.Append(f.out, fr) }

// hear takes the host's bytes at now.
func (f *firmware) hear(now time.Duration, p []byte) {
	f.dec.Feed(p, func(fr board.Frame, err error) {
		if err != nil || !f.obey(now, fr) {
			f.refuse()
		}
	})
}

func (f *firmware) refuse() {
	if f.refused < 255 {
		f.refused++
	}
}

// obey does what a line asks, and reports whether its number was taken.
func (f *firmware) obey(now time.Duration, fr board.Frame) bool {
	switch fr := fr.(type) {
	case board.Duty:
		if !f.command.Take(now, &f.numbers, fr, f.latches != 0 && !f.broken.Latched) {
			return false
		}
		if fr.PerMille > 0 {
			f.change.Forget()
		}
	case board.Query:
		f.numbers.Start(fr.Seq)
		f.answer(fr.Seq, 'Q', board.ResultDone)
		f.say(board.Info{About: f.about()})
	case board.Propose:
		if !f.numbers.Accept(fr.Seq) {
			return false
		}
		f.answer(fr.Seq, 'P', f.change.Propose(now, fr, f.command.PerMille(),
			f.fixed.Channels, f.fixed.CeilingQ))
	case board.Commit:
		if !f.numbers.Accept(fr.Seq) {
			return false
		}
		s, result := f.change.Commit(now, fr, f.command.PerMille())
		if result == board.ResultDone {
			f.store(s)
		}
		f.answer(fr.Seq, 'C', result)
	case board.Reset:
		if !f.numbers.Accept(fr.Seq) {
			return false
		}
		f.answer(fr.Seq, 'X', f.reset())
	default:
		return false // a board's line, such as an echo of our own
	}
	return true
}

func (f *firmware) answer(seq uint16, of byte, r board.Result) {
	f.say(board.Ack{Seq: seq, Of: of, Result: r, Latches: f.latches})
}

func (f *firmware) store(s board.Stored) {
	if f.broken.Forgets {
		return
	}
	if f.keep.stored.Guard != s.Guard {
		f.bad, f.seen = 0, false // of another channel
	}
	f.keep.stored, f.keep.readable = s, true
	f.latches &^= probe.LatchConfig
	f.window = window{}
}

// reset clears the latches whose cause is gone.
func (f *firmware) reset() board.Result {
	if f.command.PerMille() > 0 {
		return board.ResultHeating
	}
	var stands probe.Latch
	if !f.good() {
		stands |= faultLatches | probe.LatchHighLimit
	}
	if f.guardQ > f.stored().LimitQ {
		stands |= probe.LatchHighLimit
	}
	if !f.keep.readable {
		stands |= probe.LatchConfig
	}
	f.latches &= stands
	if f.latches != 0 {
		return board.ResultStands
	}
	return board.ResultDone
}

// good reports whether the guard channel's last conversion was good.
func (f *firmware) good() bool { return f.seen && f.bad == 0 }

const faultLatches = probe.LatchOpen | probe.LatchShortGround | probe.LatchShortSupply |
	probe.LatchNoChip

func (f *firmware) latch(l probe.Latch) {
	f.latches |= l
	if !f.broken.Latched {
		f.command.Off()
	}
}

// judge looks at the guard channel's word, and at the dead man at now.
func (f *firmware) judge(now time.Duration, word uint32) {
	why, q := read(word)
	if why != 0 {
		f.bad++
		if f.bad >= badToLatch {
			f.bad = badToLatch
			f.latch(why)
		}
	} else {
		f.bad, f.guardQ, f.seen = 0, q, true
		switch {
		case q > f.stored().LimitQ && !f.broken.Limit:
			f.latch(probe.LatchHighLimit)
		case f.broken.LetsGo:
			f.latches &^= probe.LatchHighLimit
		}
	}
	if f.command.Silent(now) && !f.broken.DeadMan {
		f.latch(probe.LatchHostSilent)
	}
}

// read gives the fault in a word of the MAX31855 as a latch, or its quarter degrees. All
// zeros and all ones are a dead line, a reserved bit (D17, D3) or a fault named without the
// fault bit is no word of that chip: the chip is absent.
func read(word uint32) (why probe.Latch, q int16) {
	named := word & 7
	switch {
	case word == 0, word&(1<<17|1<<3) != 0, (word&(1<<16) != 0) != (named != 0):
		return probe.LatchNoChip, 0
	case named&1 != 0:
		return probe.LatchOpen, 0
	case named&2 != 0:
		return probe.LatchShortGround, 0
	case named&4 != 0:
		return probe.LatchShortSupply, 0
	}
	return 0, int16(int32(word) >> 18)
}

// cycle begins one mains cycle and reports whether the output is on in it.
func (f *firmware) cycle() bool {
	s := f.stored()
	return f.window.cycle(int(s.WindowS)*int(s.MainsHz), int(f.command.PerMille()),
		f.heats())
}

// heats reports whether the output may be on.
func (f *firmware) heats() bool { return (f.latches == 0 || f.broken.Latched) && f.good() }

// tell writes one channel's reading at now.
func (f *firmware) tell(now time.Duration, channel uint8, word uint32) {
	f.say(board.Reading{
		Seq: f.seq, Millis: uint32((now - f.started).Milliseconds()), Channel: channel, Raw: word,
		Latches: f.latches, Accepted: f.numbers.Last(), Refused: f.refused,
	})
	f.seq++
	f.refused = 0
}
