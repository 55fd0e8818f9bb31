package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"strawline/control/keeper"
	"strawline/control/shop"
	"strawline/probe"
	"strawline/probe/port"
	"strawline/probe/temp"
	"strawline/probe/thermocouple"
)

// meetPatience is how long a board may take until each probe has given a reading: it boots in
// about 2 s, and a sketch's lines are learnt from several.
const meetPatience = 20 * time.Second

// ear is one board that is listened to; nothing is ever commanded.
type ear struct {
	name  string // what a person calls the port
	poll  func(now time.Duration) probe.Batch
	err   func() error                  // why the link is not up
	asks  func() []string               // what the shop file has to say first
	close func(now time.Duration) error // lets the port go
	link  probe.Link
}

// listenTo makes the ear of a port; nothing is opened yet.
func listenTo(open port.Opener, cfg port.Config) *ear {
	p := port.New(cfg, open)
	return &ear{name: cfg.Name, poll: p.Poll, err: p.Err, close: p.Close, asks: func() (q []string) {
		u, _ := p.Understood()
		for _, one := range u.Questions {
			q = append(q, one.Why)
		}
		return q
	}}
}

// tip is a probe that is listened to.
type tip struct {
	name    string
	board   string // in the shop file; "" for --port
	ear     *ear
	channel int
	typ     thermocouple.Type
	class   shop.Class
	chip    string           // of its board, "" if that does not say
	correct probe.Correction // what is known of it; zero for none
}

// value gives what is added to a probe's readings; what is of an earlier probe is not.
func (b *shopFiles) value(p *shop.Probe) probe.Correction {
	pick := shop.PickCorrection(b.shop, b.found, p.Name)
	if pick.Outdated {
		return probe.Correction{}
	}
	return pick.Value.Value()
}

// heard is one reading of a tip, as it came.
type heard struct {
	tip *tip
	probe.Reading
}

// talk is where a person answers questions while boards are read. Boards are read all the while,
// so that no reading is older than it says.
type talk struct {
	h     *host
	ctx   context.Context
	clock keeper.Clock
	ears  []*ear
	tips  []*tip
	typed <-chan string // closed where the input ends
	over  bool          // progress is written over itself, on a terminal
	wrote bool          // such a line stands there
}

// typedLines reads the person's lines. The goroutine ends with the input or the program.
func (h *host) typedLines(ctx context.Context) <-chan string {
	out := make(chan string)
	go func() {
		defer close(out)
		for in := bufio.NewScanner(h.in); in.Scan(); {
			select {
			case out <- strings.TrimSpace(in.Text()):
			case <-ctx.Done():
				return
			}
		}
	}()
	return out
}

// say writes a line of the talk; it goes to stderr, so that stdout has the answer alone.
func (k *talk) say(format string, args ...any) {
	k.clear()
	fmt.Fprintf(k.h.err, "%s\n", k.fits(fmt.Sprintf(format, args...)))
}

// talkWidth is what a line of a talk takes of a terminal: the narrowest usual one, less the cursor.
const talkWidth = 79

// fits breaks what is too long for a terminal between words, which the terminal itself would not.
func (k *talk) fits(text string) string {
	if !k.over {
		return text
	}
	var out []string
	for _, line := range strings.Split(text, "\n") {
		for {
			r := []rune(line)
			at := min(talkWidth, len(r))
			for at < len(r) && at > 0 && r[at] != ' ' {
				at--
			}
			if at == len(r) || at == 0 { // it fits, or is one word
				break
			}
			out, line = append(out, string(r[:at])), string(r[at+1:])
		}
		out = append(out, line)
	}
	return strings.Join(out, "\n")
}

// clear takes away a line of progress.
func (k *talk) clear() {
	if k.wrote {
		fmt.Fprint(k.h.err, "\r\x1b[K")
		k.wrote = false
	}
}

// progress writes a line that the next one takes the place of, where there is a terminal.
func (k *talk) progress(format string, args ...any) {
	if !k.over {
		k.say(format, args...)
		return
	}
	fmt.Fprintf(k.h.err, "\r\x1b[K"+format, args...)
	k.wrote = true
}

// look reads every board once.
func (k *talk) look() (out []heard) {
	for _, e := range k.ears {
		b := e.poll(k.clock.Now())
		e.link = b.Link
		for _, r := range b.Readings {
			for _, t := range k.tips {
				if t.ear == e && t.channel == r.Channel {
					if b.Link.Board != nil {
						t.chip = b.Link.Board.Chip
					}
					out = append(out, heard{t, r})
				}
			}
		}
	}
	return out
}

// nothingWritten is the help of a talk that was broken off.
const nothingWritten = "nothing was written"

// ended is the fault of a talk that was broken off.
func (k *talk) ended() error {
	f := &fault{code: exitTemporary, wrong: context.Cause(k.ctx), help: nothingWritten}
	var c caught
	if errors.As(f.wrong, &c) {
		f.code = exitSignal + int(c.sig)
	}
	return f
}

// ask puts a question and gives the line that is typed.
func (k *talk) ask(format string, args ...any) (string, error) {
	k.clear()
	fmt.Fprintf(k.h.err, "%s ", k.fits(fmt.Sprintf(format, args...)))
	for {
		if len(k.ears) > 0 {
			k.look()
		}
		if k.ctx.Err() != nil { // before any line that was typed as well
			return "", k.ended()
		}
		select {
		case line, ok := <-k.typed:
			if !ok {
				return "", &fault{code: exitNoInput, wrong: errors.New(
					"the input ended before the question was answered"), help: nothingWritten}
			}
			return line, nil
		case <-k.ctx.Done():
			return "", k.ended()
		case <-k.pause():
		}
	}
}

// pause ends at once while boards are read, which takes its time, and never while none are.
func (k *talk) pause() <-chan struct{} {
	if len(k.ears) == 0 {
		return nil
	}
	done := make(chan struct{})
	close(done)
	return done
}

// opensEar makes the ear of a board; that of no board is behind an option's port.
type opensEar func(*shop.Board) (*ear, error)

// listen opens the boards of the tips and waits until they speak.
func (k *talk) listen(s *shop.Shop, open opensEar) error {
	byName := map[string]*ear{}
	for _, t := range k.tips {
		e := byName[t.board]
		if e == nil {
			var err error
			if e, err = open(s.Board(t.board)); err != nil {
				return err
			}
			byName[t.board] = e
			k.ears = append(k.ears, e)
		}
		t.ear = e
	}
	if err := k.meet(); err != nil {
		return err
	}
	for _, t := range k.tips {
		_, of, ok := thermocouple.SplitChip(t.chip)
		if ok && of != t.typ {
			return &fault{code: exitConfig, did: "use", to: t.name, wrong: fmt.Errorf("it is "+
				"of type %s, and the board's %s reads type %s: no correction makes up for that",
				t.typ, t.chip, of), help: "set the type in the shop file, or change the probe"}
		}
	}
	return nil
}

// meet listens until each tip has given a reading, good or not.
func (k *talk) meet() error {
	start := k.clock.Now()
	silent := map[*tip]bool{}
	for _, t := range k.tips {
		silent[t] = true
	}
	for len(silent) > 0 {
		if k.ctx.Err() != nil {
			return k.ended()
		}
		for _, r := range k.look() {
			delete(silent, r.tip)
		}
		for _, e := range k.ears {
			switch e.link.State {
			case probe.LinkMissing, probe.LinkBusy, probe.LinkDenied, probe.LinkNotPort:
				return portFault(e.err())
			}
		}
		if k.clock.Now()-start > meetPatience {
			return k.unheard(silent)
		}
	}
	return nil
}

// unheard says which probe gave nothing, and why if that is known.
func (k *talk) unheard(silent map[*tip]bool) error {
	for _, t := range k.tips {
		if !silent[t] {
			continue
		}
		f := &fault{code: exitUnavailable, did: "listen to", to: t.name, wrong: fmt.Errorf(
			"channel %d of %s gave no reading for %v, link %s, %d lines that were none of it",
			t.channel, t.ear.name, meetPatience, t.ear.link.State, t.ear.link.Bad)}
		if q := t.ear.asks(); len(q) > 0 {
			f.help = q[0]
		} else if err := t.ear.err(); err != nil {
			f.help = err.Error()
		}
		return f
	}
	return nil
}

// leave closes every port.
func (k *talk) leave() {
	for _, e := range k.ears {
		e.close(k.clock.Now())
	}
}

// two writes a temperature in both units.
func two(c temp.C) string {
	return fmt.Sprintf("%s (%s)", c.Text(temp.Celsius, 2), c.Text(temp.Fahrenheit, 2))
}

// twoDelta writes a difference in both units, with its sign.
func twoDelta(d temp.Delta) string {
	return fmt.Sprintf("%s (%s)", d.Text(temp.Celsius, 2), d.Text(temp.Fahrenheit, 2))
}

// pm writes plus or minus a difference in both units.
func pm(d temp.Delta) string {
	return fmt.Sprintf("±%.1f °C (±%.1f °F)", float64(d), d.F())
}

// round2 keeps the hundredths, which are finer than what any of this is known to.
func round2[T ~float64](v T) T {
	if v < 0 {
		return -round2(-v)
	}
	return T(int64(float64(v)*100+0.5)) / 100
}
