//go:build linux || darwin

package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/charmbracelet/x/term"
	"github.com/charmbracelet/x/vt"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// desk is a terminal of 120 by 40 with the program on it: what comes out goes into an
// emulator, and what a terminal answers goes back.
type desk struct {
	t      *testing.T
	cmd    *exec.Cmd
	start  time.Time
	master *os.File
	slave  *os.File // kept open, so that the modes can be looked at when the program has ended
	before *term.State
	err    bytes.Buffer
	read   chan struct{} // closed when the master has ended
	ended  chan struct{} // closed when the program has ended
	mu     sync.Mutex
	em     *vt.Emulator
	all    bytes.Buffer
}

// sitDown starts the program on a new terminal, as the leader of its session.
func (p *person) sitDown(args ...string) *desk {
	p.t.Helper()
	const width, height = 120, 40
	master, slave := openTerminal(p.t, height, width)
	d := &desk{t: p.t, cmd: p.whole(args...), master: master, slave: slave,
		em: vt.NewEmulator(width, height), read: make(chan struct{}), ended: make(chan struct{})}
	var err error
	d.before, err = term.GetState(slave.Fd())
	require.NoError(p.t, err)
	d.cmd.Stdin, d.cmd.Stdout, d.cmd.Stderr = slave, slave, &d.err
	d.cmd.SysProcAttr.Setsid, d.cmd.SysProcAttr.Setctty = true, true
	d.start = time.Now()
	require.NoError(p.t, d.cmd.Start())
	go d.listen()
	go func() { _, _ = io.Copy(master, d.em) }() // ends with the emulator
	go func() {
		_ = d.cmd.Wait() // the code is looked at by whoever waits for the end
		close(d.ended)
	}()
	p.t.Cleanup(d.leave)
	return d
}

func (d *desk) listen() {
	defer close(d.read)
	buf := make([]byte, 1<<14)
	for {
		n, err := d.master.Read(buf)
		d.mu.Lock()
		_, _ = d.em.Write(buf[:n])
		d.all.Write(buf[:n])
		d.mu.Unlock()
		if err != nil {
			return
		}
	}
}

// leave ends what is left.
func (d *desk) leave() {
	select {
	case <-d.ended:
	default:
		_ = d.cmd.Process.Kill()
		<-d.ended
	}
	_ = d.slave.Close()
	_ = d.master.Close()
	<-d.read
	// Its own Close races with whoever drains it.
	if answers, ok := d.em.InputPipe().(io.Closer); ok {
		_ = answers.Close()
	}
}

func (d *desk) shown() string {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.em.String()
}

// waits until the screen shows every word, and gives the screen.
func (d *desk) waits(words ...string) string {
	d.t.Helper()
	shown := ""
	all := func() bool {
		shown = d.shown()
		for _, w := range words {
			if !strings.Contains(shown, w) {
				return false
			}
		}
		return true
	}
	if !assert.Eventually(d.t, all, patience, 5*time.Millisecond) {
		select {
		case <-d.ended:
			shown += "\nthe program has ended: " + d.err.String()
		default:
		}
		require.Fail(d.t, "not on the screen", "%q\n%s", words, shown)
	}
	return shown
}

func (d *desk) keys(s string) {
	d.t.Helper()
	_, err := d.master.WriteString(s)
	require.NoError(d.t, err)
}

// code waits for the program's end and gives its exit code.
func (d *desk) code() int {
	d.t.Helper()
	select {
	case <-d.ended:
	case <-time.After(patience):
		require.Fail(d.t, "the program does not end", d.shown())
	}
	return d.cmd.ProcessState.ExitCode()
}

// restored says that the terminal is as it was: its modes, the main screen, a cursor.
func (d *desk) restored() {
	d.t.Helper()
	after, err := term.GetState(d.slave.Fd())
	require.NoError(d.t, err)
	assert.Equal(d.t, d.before, after, "the terminal's modes")
	require.NoError(d.t, d.slave.Close())
	<-d.read
	d.mu.Lock()
	defer d.mu.Unlock()
	all := d.all.String()
	for _, pair := range [][2]string{{"\x1b[?1049l", "\x1b[?1049h"}, {"\x1b[?25h", "\x1b[?25l"},
		{"\x1b[?2004l", "\x1b[?2004h"}} {
		assert.Greater(d.t, strings.LastIndex(all, pair[0]), strings.LastIndex(all, pair[1]), "%q",
			pair[0])
	}
	assert.NotContains(d.t, all, "\x1b]11;?", "nobody asks the terminal its colours")
}

// dashboard has the words that a running demo's dashboard shows.
var dashboard = []string{"SIMULATED", "set", "drift", "soak left", "duty", "pseudo-terminal"}

// TestDemoOnATerminal: the dashboard of a demo on a real terminal, through the pseudo-terminal
// of the simulated board and the serial library, to the end of a whole temper.
func TestDemoOnATerminal(t *testing.T) {
	t.Parallel()
	p := newWholePerson(t)
	path := filepath.Join(p.home, "run.jsonl")
	d := p.sitDown("demo", "--pace", "20000", "--seed", "7", "--out", path)
	d.waits(dashboard...)
	first := time.Since(d.start)
	t.Logf("from exec to the first whole dashboard: %v", first.Round(time.Millisecond))
	assert.Less(t, first, 10*time.Second)
	d.waits("ENDED", "the profile is done", "off commanded")
	d.keys("q") // the screen stays until somebody has seen the end; the run is over before
	assert.Equal(t, exitOK, d.code(), d.err.String())
	d.restored()
	assert.Empty(t, d.err.String())
	assert.Contains(t, d.all.String(), "heat off commanded; run file "+path)
	f := readWhole(t, path)
	f.done()
	f.soaks()
	f.answered(4)

	// The same seed without a screen gives the same run file: the screen changed nothing.
	p.demoTo("lines.jsonl", "demo", "--plain", "--pace", "max", "--seed", "7")
	p.same("run.jsonl", "lines.jsonl")
	p.played(path)
}

// played shows the replay of a run file on a terminal and presses its keys. What it looks for
// follows from the file: where it is long, and where its events stand.
func (p *person) played(path string) {
	p.t.Helper()
	f := readTape(p.t, path)
	length := f.end()
	soaked := f.events("soaked")[0]
	d := p.sitDown("replay", path, "--pace", "20")
	start := d.waits("REPLAY", "SIMULATED", "set", "drift", "soak left", "duty")
	assert.NotContains(p.t, start, "pseudo-terminal", "a replay reaches no board")

	d.becomes("playing", "")
	d.keys(" ")
	d.becomes("paused", "")
	d.keys("9")
	d.waits("REPLAY", "ENDED", "the profile is done", hours(length)+" of "+hours(length))
	d.keys("0")
	d.waits("0:00 of "+hours(length), "step 1 of 8")
	for range 4 { // ten minutes each
		d.keys("\x1b[A")
	}
	d.waits("40:00 of", "step 3 of 8")
	d.keys("\x1b[D\x1b[D") // a minute back each
	d.waits("38:00 of")
	d.keys("i") // every alarm, explained; the arrows choose one there
	d.waits("REPLAY", "13 alarms", "a probe reads above the limit of this run")
	d.keys("\x1b[B")
	d.waits("the heat was taken away for good")
	d.keys("i")
	d.waits("no alarms", "38:00 of")
	d.keys("n")
	d.waits(hours(soaked.T)+" of", "step 4 of 8")
	d.keys("q")
	assert.Equal(p.t, exitOK, d.code(), d.err.String())
	d.restored()
	assert.Empty(p.t, d.err.String())
}

// hours writes seconds of a run as the replay's line does.
func hours(s float64) string {
	n := int(s + 0.5)
	if n < 3600 {
		return fmt.Sprintf("%d:%02d", n/60, n%60)
	}
	return fmt.Sprintf("%d:%02d:%02d", n/3600, n/60%60, n%60)
}

var standsRE = regexp.MustCompile(`(paused|playing) +([0-9.]+)x +([0-9:]+) of`)

// stands gives what the replay's line says: playing or paused, its speed, where it is.
func (d *desk) stands() (word, speed, at string) {
	m := standsRE.FindStringSubmatch(d.shown())
	if m == nil {
		return "", "", ""
	}
	return m[1], m[2], m[3]
}

// becomes waits until the replay's line says a word and a speed other than was.
func (d *desk) becomes(want, was string) (speed string) {
	d.t.Helper()
	ok := assert.Eventually(d.t, func() bool {
		var word string
		word, speed, _ = d.stands()
		return word == want && speed != was
	}, patience, 5*time.Millisecond)
	require.True(d.t, ok, "%s, not %sx\n%s", want, was, d.shown())
	return speed
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return v
}

// TestReplayKeys looks at play, pause and the speeds by what the screen says of them.
func TestReplayKeys(t *testing.T) {
	t.Parallel()
	p := newWholePerson(t)
	path := filepath.Join(p.home, "run.jsonl")
	p.demoTo("run.jsonl", "demo", "--plain", "--pace", "max", "--seed", "7")
	d := p.sitDown("replay", path, "--pace", "100")
	d.waits("REPLAY")
	speed := d.becomes("playing", "")
	assert.Equal(t, 100.0, number(t, speed), "the pace that was asked for")
	_, _, from := d.stands()
	require.Eventually(t, func() bool {
		_, _, at := d.stands()
		return at != from
	}, patience, 5*time.Millisecond, "it plays")
	d.keys("+")
	faster := d.becomes("playing", speed)
	assert.Greater(t, number(t, faster), number(t, speed))
	d.keys("-")
	slower := d.becomes("playing", faster)
	assert.Less(t, number(t, slower), number(t, faster))
	d.keys(" ")
	d.becomes("paused", "")
	_, _, still := d.stands()
	d.keys("\x1b[C") // a minute on
	require.Eventually(t, func() bool {
		_, _, at := d.stands()
		return at != still
	}, patience, 5*time.Millisecond, "a jump while paused")
	d.keys("q")
	assert.Equal(t, exitOK, d.code(), d.err.String())
	d.restored()
}
