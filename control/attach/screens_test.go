package attach

import (
	"context"
	"io"
	"net"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/probe/temp"
)

const tick = 250 * time.Millisecond

// ramp publishes a run from one instant to another, with one spike that no thinning may lose.
func ramp(h *fakeHouse, from, to, spike time.Duration) {
	for t := from; t < to; t += tick {
		v := temp.C(20 + t.Seconds()/10)
		if t == spike {
			v = 999
		}
		h.at(t, v)
		time.Sleep(tick)
	}
}

// TestPastAndPresentJoin: a screen that comes late has the whole past and every span after it,
// spikes too, as the keeper has them.
func TestPastAndPresentJoin(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := &fakeHouse{}
		p := newPipes(t, h)
		over := make(chan struct{})
		go func() {
			defer close(over)
			ramp(h, 0, 20*time.Minute, 7*time.Minute)
		}()
		time.Sleep(9*time.Minute + 3*tick + tick/2)
		w := p.watch("pts/3")
		n := 0
		for s := (control.Snapshot{}); s.T < 20*time.Minute-tick; n++ {
			var err error
			s, err = w.Next(t.Context())
			require.NoError(t, err)
			require.Equal(t, "kitchen", s.Info.Run)
			past := w.Past()
			require.GreaterOrEqual(t, past[len(past)-1].At+control.PastSpan, s.T, "no hole")
			for i, span := range past {
				require.Equal(t, time.Duration(i)*control.PastSpan, span.At)
			}
		}
		require.Greater(t, n, 2500, "a quick screen sees every Snapshot")
		<-over
		full, past := h.tr.Points(), w.Past()
		require.GreaterOrEqual(t, len(past), len(full)-1)
		require.Equal(t, full[:len(past)-1], past[:len(past)-1])
		require.EqualValues(t, 999, past[42].Max)
	})
}

// stuck is a connection whose reader can be held up.
type stuck struct {
	net.Conn
	mu   sync.Mutex
	held chan struct{}
}

func (s *stuck) hold() (release func()) {
	s.mu.Lock()
	defer s.mu.Unlock()
	c := make(chan struct{})
	s.held = c
	return func() { close(c) }
}

func (s *stuck) Read(p []byte) (int, error) {
	s.mu.Lock()
	held := s.held
	s.mu.Unlock()
	if held != nil {
		<-held
	}
	return s.Conn.Read(p)
}

// TestSlowScreenIsDroppedAndComesBack: while one screen takes nothing, the keeper and another
// screen lose nothing; the slow one is dropped, comes back and has all of the past.
func TestSlowScreenIsDroppedAndComesBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := &fakeHouse{}
		p := newPipes(t, h)
		made := make(chan *stuck, 10)
		h.at(0, 20)
		slow, err := p.door("slow", func(c net.Conn) net.Conn {
			s := &stuck{Conn: c}
			made <- s
			return s
		}).Watch(t.Context(), "kitchen")
		require.NoError(t, err)
		t.Cleanup(slow.Close)
		quick := p.watch("quick")
		start := time.Now()
		release := (<-made).hold()
		seen := make(chan int)
		go func() {
			n := 0
			for s := (control.Snapshot{}); s.T < 2*time.Minute-tick; n++ {
				s, _ = quick.Next(context.Background())
			}
			seen <- n
		}()
		ramp(h, tick, 2*time.Minute, 30*time.Second)
		require.Equal(t, 2*time.Minute-tick, time.Since(start), "the run never waited")
		require.GreaterOrEqual(t, <-seen, 4*120-2)
		release()
		time.Sleep(2 * time.Second)
		require.Len(t, made, 1, "it came back by itself, once")
		s, err := slow.Next(t.Context())
		require.NoError(t, err)
		require.Equal(t, 2*time.Minute-tick, s.T)
		require.Equal(t, h.tr.Points(), slow.Past())
		require.EqualValues(t, 999, slow.Past()[3].Max)
	})
}

// TestLease: what may raise the heat is taken from one screen at a time; off, stop, silence,
// acknowledge, notes and the answer from every one.
func TestLease(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := &fakeHouse{}
		p := newPipes(t, h)
		h.at(0, 20)
		one, two := p.watch("pts/1"), p.watch("pts/2")
		next := func(w *Watcher) control.Snapshot {
			s, err := w.Next(t.Context())
			require.NoError(t, err)
			return s
		}
		next(one)
		next(two)
		one.Ask(control.Ask{Kind: control.AskConfirm})
		synctest.Wait()
		name, mine := two.Lease()
		require.Equal(t, "pts/1", name)
		require.False(t, mine)
		_, mine = one.Lease()
		require.True(t, mine)

		two.Ask(control.Ask{Kind: control.AskSkip})
		synctest.Wait()
		s := next(two)
		require.Equal(t, 1, s.Refusals)
		require.Contains(t, s.Refused, "pts/1 has the run")
		require.Equal(t, []control.AskKind{control.AskConfirm}, h.taken())

		free := []control.AskKind{control.AskHeatOff, control.AskStop, control.AskSilence,
			control.AskAcknowledge, control.AskAnswer, control.AskNote}
		for _, k := range free {
			two.Ask(control.Ask{Kind: k})
		}
		synctest.Wait()
		require.Equal(t, append([]control.AskKind{control.AskConfirm}, free...), h.taken())

		h.asks = nil
		two.Take()
		two.Ask(control.Ask{Kind: control.AskMore, Seconds: 60})
		synctest.Wait()
		one.Ask(control.Ask{Kind: control.AskGoOn})
		synctest.Wait()
		require.Equal(t, []control.AskKind{control.AskNote, control.AskMore}, h.taken())
		require.Equal(t, "screen pts/2", h.asks[1].By)
		require.Contains(t, next(one).Refused, "pts/2 has the run")

		two.Close()
		synctest.Wait()
		name, _ = one.Lease()
		require.Empty(t, name, "it is free when its screen leaves")
		one.Ask(control.Ask{Kind: control.AskGoOn})
		synctest.Wait()
		require.Contains(t, h.taken(), control.AskGoOn)
	})
}

// TestTheEndIsTold: the last Snapshot comes, then io.EOF and how it ended.
func TestTheEndIsTold(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := &fakeHouse{}
		p := newPipes(t, h)
		h.at(0, 20)
		w := p.watch("pts/1")
		_, err := w.Next(t.Context())
		require.NoError(t, err)
		h.at(time.Second, 21)
		h.end()
		s, err := w.Next(t.Context())
		require.NoError(t, err)
		require.Equal(t, time.Second, s.T)
		_, err = w.Next(t.Context())
		require.ErrorIs(t, err, io.EOF)
		o, ok := w.Outcome()
		require.True(t, ok)
		require.Equal(t, "done", o.Word)
	})
}

// TestKeeperGone: a keeper that does not come back within BackLimit is gone; nothing that may
// raise the heat is kept for it meanwhile.
func TestKeeperGone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := &fakeHouse{}
		p := newPipes(t, h)
		ctx, kill := context.WithCancel(context.Background())
		p.ctx = ctx
		h.at(0, 20)
		w := p.watch("pts/1")
		_, err := w.Next(t.Context())
		require.NoError(t, err)
		kill()
		synctest.Wait()
		w.Ask(control.Ask{Kind: control.AskGoOn})
		s, err := w.Next(t.Context())
		require.NoError(t, err)
		require.Contains(t, s.Refused, "out of reach")
		start := time.Now()
		_, err = w.Next(t.Context())
		require.ErrorIs(t, err, ErrNobody)
		require.InDelta(t, BackLimit.Seconds(), time.Since(start).Seconds(), 1)
		require.Empty(t, h.taken())
	})
}

// TestOtherVersion: each side says so.
func TestOtherVersion(t *testing.T) {
	mine, its := net.Pipe()
	go func() {
		in := newLines(its)
		_, _ = in.next()
		line, _ := encode(message{Hello: &Hello{Version: Version + 1, Build: "newer"}})
		_, _ = its.Write(line)
	}()
	d := Door{Path: "pipe", Now: time.Now,
		Dial: func(context.Context) (net.Conn, error) { return mine, nil }}
	_, err := d.Look(t.Context())
	require.ErrorIs(t, err, ErrVersion)
	require.ErrorContains(t, err, "newer")
}

// TestStart: a job comes over whole, and so does why it was refused.
func TestStart(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := &fakeHouse{}
		d := newPipes(t, h).door("pts/1", nil)
		j := Job{Args: []string{"run", "kitchen"}, Folder: "/home/ann", Env: []string{"HOME=/home/ann"}}
		run, err := d.Start(t.Context(), j)
		require.NoError(t, err)
		require.Equal(t, "kitchen", run)
		require.Equal(t, []Job{j}, h.jobs)
		_, err = d.Start(t.Context(), Job{})
		var no *Refusal
		require.ErrorAs(t, err, &no)
		require.Equal(t, "nothing to run", no.Text)
		hello, err := d.Look(t.Context())
		require.NoError(t, err)
		require.Equal(t, h.Runs(), hello.Runs)
		_, err = d.Watch(t.Context(), "forge")
		require.ErrorAs(t, err, &no)
		require.Equal(t, 66, no.Code)
	})
}
