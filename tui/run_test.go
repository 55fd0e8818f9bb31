package tui

import (
	"bytes"
	"context"
	"io"
	"os"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/charmbracelet/x/vt"
	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"strawline/control"
	"strawline/probe/temp"
)

// alive is a source that always has something newer: every look is a quarter of a second later.
type alive struct {
	mu    sync.Mutex
	s     control.Snapshot
	looks int
	asked []control.Ask
	turn  func(*control.Snapshot, int) // changes each Snapshot, given the count of looks
	end   int                          // looks after which it has no more; 0 for never
}

func (a *alive) Next(ctx context.Context) (control.Snapshot, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return control.Snapshot{}, err
	}
	if a.end > 0 && a.looks >= a.end {
		return control.Snapshot{}, io.EOF
	}
	a.looks++
	a.s = at(a.s, a.s.T+250*time.Millisecond, 390+float64(a.looks%10))
	s := a.s
	if a.turn != nil {
		a.turn(&s, a.looks)
	}
	s.Channels = append([]control.Channel(nil), s.Channels...)
	return s, nil
}

func (a *alive) Past() []control.Past { return pastOf(a.s.T) }

func (a *alive) Ask(k control.Ask) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.asked = append(a.asked, k)
}

// desk is a pseudo-terminal with an emulator behind it, and what came out of it.
type desk struct {
	*testing.T
	master, slave *os.File
	mu            sync.Mutex
	em            *vt.Emulator
	all           bytes.Buffer
	read          chan struct{} // closed when the master has ended
}

func newDesk(t *testing.T, listen bool) *desk {
	master, slave, err := pty.Open()
	require.NoError(t, err)
	require.NoError(t, pty.Setsize(master, &pty.Winsize{Rows: 24, Cols: 80}))
	d := &desk{T: t, master: master, slave: slave, em: vt.NewEmulator(80, 24),
		read: make(chan struct{})}
	if listen {
		go d.listen()
	}
	return d
}

func (d *desk) listen() {
	defer close(d.read)
	buf := make([]byte, 4096)
	for {
		n, err := d.master.Read(buf)
		d.mu.Lock()
		d.em.Write(buf[:n])
		d.all.Write(buf[:n])
		d.mu.Unlock()
		if err != nil {
			return
		}
	}
}

// waits until the screen shows every word.
func (d *desk) waits(words ...string) {
	d.Helper()
	shown := ""
	require.Eventually(d, func() bool {
		d.mu.Lock()
		defer d.mu.Unlock()
		shown = d.em.String()
		for _, w := range words {
			if !strings.Contains(shown, w) {
				return false
			}
		}
		return true
	}, patience, 5*time.Millisecond, "%v on\n%s", words, &shown)
}

func (d *desk) keys(s string) {
	_, err := d.master.WriteString(s)
	require.NoError(d, err)
}

func (d *desk) close() {
	d.slave.Close()
	d.master.Close()
}

// start runs a screen on the desk and gives the channel of its end.
func (d *desk) start(ctx context.Context, src Source, o Options) chan error {
	o.In, o.Out, o.Unit = d.slave, d.slave, temp.Fahrenheit
	ended := make(chan error, 1)
	go func() { ended <- Run(ctx, src, o) }()
	return ended
}

// patience is how long a test waits for what must come; it decides nothing when all is well.
const patience = time.Minute

func returns(t *testing.T, ended chan error) error {
	t.Helper()
	select {
	case err := <-ended:
		return err
	case <-time.After(patience):
		require.Fail(t, "Run did not return")
		return nil
	}
}

// noneLeft checks that no goroutine is left, but for a tick, which ends by itself within half a
// second and cannot be stopped.
func noneLeft(t *testing.T, current goleak.Option) {
	goleak.VerifyNone(t, current,
		goleak.IgnoreAnyFunction("github.com/charmbracelet/bubbletea.Tick.func1"))
}

// TestRunOnATerminal: the dashboard comes up on a terminal that answers no query, keys reach
// it, leaving asks first, and the terminal is given back.
func TestRunOnATerminal(t *testing.T) {
	defer noneLeft(t, goleak.IgnoreCurrent())
	d := newDesk(t, true)
	src := &alive{s: soaking().s}
	ended := d.start(t.Context(), src, Options{LeaveStops: true, Transport: "pseudo-terminal"})
	d.waits("SIMULATED", "soak left", "h heat off", "by the air")
	d.keys("h")
	d.waits("heat off asked")
	d.keys("q")
	d.waits("leaving ends the run, heat off: y/n")
	d.keys("y")
	require.NoError(t, returns(t, ended))
	assert.Equal(t, []control.Ask{ask1(control.AskHeatOff), ask1(control.AskStop)}, src.asked)
	d.close()
	<-d.read
	assert.Contains(t, d.all.String(), "\x1b[?1049h", "the alternate screen")
	assert.Contains(t, d.all.String(), "\x1b[?1049l", "and back from it")
	assert.Contains(t, d.all.String(), "\x1b[?25h", "the cursor shows again")
	assert.NotContains(t, d.all.String(), "\x1b]11;?", "nothing asks the terminal its colours")
}

func TestRunEndsWithItsContext(t *testing.T) {
	defer noneLeft(t, goleak.IgnoreCurrent())
	d := newDesk(t, true)
	ctx, cancel := context.WithCancel(t.Context())
	ended := d.start(ctx, &alive{s: soaking().s}, Options{})
	d.waits("soak left")
	cancel()
	assert.ErrorIs(t, returns(t, ended), context.Canceled)
	d.close()
	<-d.read
	assert.Contains(t, d.all.String(), "\x1b[?1049l")
}

// TestTerminalGone: with no signal at all, the end of the terminal ends the screen.
func TestTerminalGone(t *testing.T) {
	defer noneLeft(t, goleak.IgnoreCurrent())
	d := newDesk(t, true)
	ended := d.start(t.Context(), &alive{s: soaking().s}, Options{LeaveStops: true})
	d.waits("soak left")
	d.master.Close()
	assert.ErrorIs(t, returns(t, ended), ErrGone)
	<-d.read
	d.slave.Close()
}

// TestStalledTerminal: a terminal that takes nothing more holds up neither the source, which
// is only looked at less, nor the end of Run.
func TestStalledTerminal(t *testing.T) {
	defer noneLeft(t, goleak.IgnoreCurrent())
	d := newDesk(t, false)
	require.NoError(t, pty.Setsize(d.master, &pty.Winsize{Rows: 60, Cols: 200}))
	ctx, cancel := context.WithCancel(t.Context())
	src := &alive{s: soaking().s}
	src.turn = func(s *control.Snapshot, n int) { // much to draw each time
		s.Latches = []string{strings.Repeat("x", n%150)}
		if n%2 == 0 {
			s.Phase, s.Alarms = control.PhaseTripped, tripped().s.Alarms
		}
	}
	ended := d.start(ctx, src, Options{Call: Call{Title: true}})
	stuck := func() bool { // the looks have stopped: Send waits for the screen
		src.mu.Lock()
		before := src.looks
		src.mu.Unlock()
		<-time.After(2 * time.Second)
		src.mu.Lock()
		defer src.mu.Unlock()
		return before > 0 && src.looks == before
	}
	require.Eventually(t, stuck, patience, time.Millisecond)
	start := time.Now()
	cancel()
	err := returns(t, ended)
	assert.Less(t, time.Since(start), closeIn+3*time.Second)
	assert.ErrorIs(t, err, context.Canceled)
	assert.ErrorIs(t, err, ErrStuck)
	go d.listen() // now it reads again, and what was left behind ends
	require.Eventually(t, func() bool {
		d.mu.Lock()
		defer d.mu.Unlock()
		return strings.Contains(d.all.String(), titlesBack) // the last of all
	}, patience, 5*time.Millisecond)
	d.close()
	<-d.read
	assert.Contains(t, d.all.String(), "\x1b[?1049l")
}

func TestPanicOfTheFeedIsAnError(t *testing.T) {
	defer noneLeft(t, goleak.IgnoreCurrent())
	d := newDesk(t, true)
	// It breaks once the screen stands: a program that is still starting looks at the terminal from
	// a goroutine that nobody can wait for.
	broken := make(chan struct{})
	ended := d.start(t.Context(), &alive{s: soaking().s, turn: func(_ *control.Snapshot, looks int) {
		if looks > 1 {
			<-broken
			panic("broken source")
		}
	}}, Options{})
	d.waits("soak left")
	close(broken)
	assert.ErrorContains(t, returns(t, ended), "broken source")
	d.close()
	<-d.read
	assert.Contains(t, d.all.String(), "\x1b[?1049l", "the terminal is given back")
}

func TestRunStaysWhenTheSourceHasNoMore(t *testing.T) {
	defer noneLeft(t, goleak.IgnoreCurrent())
	d := newDesk(t, true)
	ended := d.start(t.Context(), &alive{s: ended().s, end: 2}, Options{LeaveStops: true})
	d.waits("ended, heat off commanded, the oven still reads 392 °F: done")
	d.keys("q")
	require.NoError(t, returns(t, ended))
	d.close()
	<-d.read
}

func TestRunToWhatIsNoTerminal(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	var out syncBuffer
	ended := make(chan error, 1)
	go func() {
		ended <- Run(ctx, &alive{s: tripped().s}, Options{Out: &out, NoInput: true,
			Call: Call{Bell: true, Title: true, Notify: true}})
	}()
	require.Eventually(t, func() bool { return strings.Contains(out.String(), "OVER LIMIT") },
		patience, 5*time.Millisecond)
	cancel()
	assert.ErrorIs(t, returns(t, ended), context.Canceled)
	assert.NotContains(t, out.String(), "\a", "nobody hears a file")
	assert.NotContains(t, out.String(), "\x1b]")
}

type syncBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *syncBuffer) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *syncBuffer) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

// TestFourMessagesASecond: however fast the source, the screen gets at most four messages a
// second, and the past once each ten seconds of the run.
func TestFourMessagesASecond(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithTimeout(t.Context(), 60*time.Second)
		defer cancel()
		news, pasts := 0, 0
		feed(ctx, &alive{s: soaking().s}, func(m tea.Msg) {
			news++
			if m.(newsMsg).past != nil {
				pasts++
			}
		})
		assert.InDelta(t, 240, news, 1)
		assert.InDelta(t, 6, pasts, 1)
	})
}

// TestTwelveHours: half a day of Snapshots at four a second, one in a thousand drawn, leaves the
// chart's memory where it is bound to be: one span for ten seconds.
func TestTwelveHours(t *testing.T) {
	src := &alive{s: soaking().s}
	src.s.T = 0
	b := newBench(t, Options{}, soaking().s)
	b.m.tr = nil
	const looks = 12 * 3600 * 4
	for i := range looks {
		s, err := src.Next(t.Context())
		require.NoError(t, err)
		b.m.news(newsMsg{s: s})
		if i%1000 == 0 {
			b.m.View()
		}
	}
	assert.InDelta(t, 12*360, len(b.m.tr), 1)
	assert.LessOrEqual(t, b.m.cache.Drawn, looks/1000+1)
}
