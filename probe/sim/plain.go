package sim

import (
	"fmt"
	"time"

	"strawline/probe"
	"strawline/probe/temp"
	"strawline/probe/thermocouple"
)

// Plain makes the board one that runs somebody's own sketch and takes no duty, beside an oven
// that holds its heat by a thermostat of its own. Zero fields take the defaults named.
type Plain struct {
	Every time.Duration // between two lines, a multiple of Step; default 500 ms
	Swing temp.Delta    // the thermostat switches this far above and below; default 25 °F
	Error temp.Delta    // what the thermostat's own sensor reads too much; default none
}

func (p Plain) withDefaults() Plain {
	if p.Every == 0 {
		p.Every = 500 * time.Millisecond
	}
	if p.Swing == 0 {
		p.Swing = temp.DeltaF(25) // a bare oven's; common practice, no source
	}
	return p
}

// plain is the state of such a shop.
type plain struct {
	cfg Plain
	set temp.C // of the thermostat's dial
	has bool   // the dial is not at off
	on  bool
}

// SetOven turns the dial of an oven with a thermostat of its own; off turns it off.
func (b *Board) SetOven(to temp.C, off bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.plain.set, b.plain.has = to, !off
}

// thermostat gives the oven's power for one Step. It feels the air.
func (b *Board) thermostat() float64 {
	p := &b.plain
	felt := b.oven.Air().Add(p.cfg.Error)
	switch {
	case !p.has:
		p.on = false
	case felt > p.set.Add(p.cfg.Swing):
		p.on = false
	case felt < p.set.Add(-p.cfg.Swing):
		p.on = true
	}
	if p.on {
		b.truth.On += Step
		return b.cfg.Plant.HeaterW
	}
	return 0
}

// print says the readings as a sketch would: chip's own number, no protocol, no check.
func (b *Board) print(fault probe.Fault) {
	p := &b.plain
	if b.now == b.bootAt+Step {
		b.program.out = append(b.program.out, "\r\noven thermometer\r\n"...)
	}
	if b.now%p.cfg.Every != 0 {
		return
	}
	hot, cold, fault := thermocouple.Decode(chipName, b.frozen(b.front.word(b.felt(), fault)))
	if fault != probe.FaultNone {
		b.program.out = append(b.program.out, "oven: open circuit\r\n"...)
		return
	}
	b.program.out = fmt.Appendf(b.program.out, "oven: %.2f C, board: %.2f C\r\n", float64(hot),
		float64(cold))
}
