//go:build linux

package main

import (
	"bytes"
	"encoding/json"
	"os/exec"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"strawline/probe"
	"strawline/probe/modbus"
	"strawline/probe/port"
	"strawline/probe/sim"
)

// printer is a pseudo-terminal that prints text over and over, and keeps what is written to it.
type printer struct {
	path    string
	written func() string
}

func newPrinter(t *testing.T, every time.Duration, lines ...string) printer {
	t.Helper()
	i := 0
	return newAnswerer(t, every, func([]byte) []byte {
		i++
		if len(lines) == 0 {
			return nil
		}
		return []byte(lines[i%len(lines)])
	})
}

// newAnswerer makes one that is asked every so often what to print, with what was written to it.
func newAnswerer(t *testing.T, every time.Duration, turn func(heard []byte) []byte) printer {
	t.Helper()
	host, tty, err := pty.Open()
	require.NoError(t, err)
	in, out := int(tty.Fd()), int(host.Fd()) // asking for it makes it one that waits
	require.NoError(t, syscall.SetNonblock(out, true))
	set, err := unix.IoctlGetTermios(in, unix.TCGETS)
	require.NoError(t, err)
	set.Iflag, set.Oflag, set.Lflag = 0, 0, 0 // or what is printed would be echoed as written
	require.NoError(t, unix.IoctlSetTermios(in, unix.TCSETS, set))
	var got bytes.Buffer
	stop, done := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(done)
		tick := time.NewTicker(every)
		defer tick.Stop()
		buf := make([]byte, 512)
		for {
			select {
			case <-stop:
				return
			case <-tick.C:
			}
			n, err := syscall.Read(out, buf)
			if err != nil {
				n = 0
			}
			got.Write(buf[:n])
			if p := turn(buf[:n]); len(p) > 0 {
				// Where nobody listens the terminal fills up, and the rest is lost.
				_, _ = syscall.Write(out, p)
			}
		}
	}()
	end := func() string {
		select {
		case <-stop:
		default:
			close(stop)
		}
		<-done
		return got.String()
	}
	t.Cleanup(func() { end(); host.Close(); tty.Close() })
	return printer{tty.Name(), end}
}

func listenFor(t *testing.T, p *person, args ...string) (out, bad string) {
	t.Helper()
	out, bad, code := p.run(append([]string{"probes", "listen"}, args...)...)
	require.Equal(t, exitOK, code, bad+out)
	require.Empty(t, bad)
	return out, bad
}

func TestListenToASketch(t *testing.T) {
	t.Parallel()
	path := boardOnPty(t, sim.Config{Start: 181, Plain: &sim.Plain{}})
	p := newPerson(t)
	out, _ := listenFor(t, p, path, "--for", "6s")
	require.Regexp(t, `\d\.\d\d s \| oven: 1[78]\d\.\d\d C, board: \d\d\.\d\d C\n`, out)
	require.Regexp(t, `understood: channel 1 = 1[78]\d\.\d\d °C, cold junction \d\d\.\d\d °C, `+
		`[\d.]+ lines/s\n`, out)
	require.Contains(t, out, "    kind = \"lines\"\n    port = \""+path+"\"\n    baud = 38400\n")
	readings := regexp.MustCompile(`([\d.]+) s = channel 1 reads 1[78]\d\.\d\d °C \(3\d\d\.\d\d °F\), `+
		`cold junction [\d.]+ °C: good\n`).FindAllString(out, -1)
	require.Greater(t, len(readings), 1)
	require.Less(t, len(readings), 7, "once a second at most")
	require.Contains(t, out, " lines came, 0 of them not understood\n")

	shop := p.write("shop.toml", `[[board]]
name = "temper"
kind = "lines"
port = "`+path+`"
[[probe]]
name = "air"
board = "temper"
use = "oven air"
[probe.correction]
offset = "-1.5C"
date = 2026-11-01
source = "ice point"
`)
	var a listenAnswer
	out, _ = listenFor(t, p, "--shop", shop, "--for", "4s", "--json")
	require.NoError(t, json.Unmarshal([]byte(out), &a))
	require.Equal(t, 1, strings.Count(out, "\n"))
	require.Equal(t, "lines", a.Kind)
	require.Equal(t, "temper", a.Board)
	require.Equal(t, 9600, a.Baud, "the shop file's own")
	require.Equal(t, "up", a.Link)
	require.Contains(t, a.Understood, "channel 1 = ")
	require.Empty(t, a.Paste, "the shop file has it")
	require.Greater(t, a.Lines, uint64(4))
	require.Zero(t, a.BadLines)
	require.Len(t, a.Channels, 1)
	c := a.Channels[0]
	require.True(t, c.Good)
	require.Equal(t, "air", c.Probe)
	require.InDelta(t, 176, *c.TempC, 8)
	require.InDelta(t, *c.TempC-1.5, *c.CorrectedC, 0.002)
	require.Equal(t, "from shop.toml", c.Correction)
	require.Less(t, *c.AgeS, 1.0)

	out, _ = listenFor(t, p, "--shop", shop, "--board", "temper", "--for", "4s")
	require.Regexp(t, `channel 1 air reads 1[78].* corrected .* \(from shop.toml\), cold.*: good`, out)
}

func TestListenToABoardOfOurs(t *testing.T) {
	t.Parallel()
	path := boardOnPty(t, sim.Config{Start: 90})
	p := newPerson(t)
	out, _ := listenFor(t, p, path, "--for", "6s")
	require.Regexp(t, `\| R,\d+,\d+,1,[0-9A-F]{8},`, out)
	require.Regexp(t, `understood: straw-sim, a board of line protocol 1 with a MAX31855K, `+
		`channel 1 = (89|90|91)\.\d\d °C, cold junction \d\d\.\d\d °C, [\d.]+ readings/s\n`, out)
	require.Contains(t, out, `kind = "strawline board"`)
	require.Contains(t, out, ": good\n")
	require.NotContains(t, out, "not to be believed")

	var a listenAnswer
	out, _ = listenFor(t, p, path, "--for", "3s", "--kind", "strawline board", "--json")
	require.NoError(t, json.Unmarshal([]byte(out), &a))
	require.Equal(t, "strawline board", a.Kind)
	require.Equal(t, 38400, a.Baud)
	require.True(t, a.Channels[0].Good)
	require.InDelta(t, 90, *a.Channels[0].TempC, 3)
	require.InDelta(t, 10, a.Channels[0].Readings, 5, "four a second, once it is proved")
}

// TestListenWritesNothing: what is no board of ours never gets a byte, whatever it is said to be,
// and what is in its lines does nothing to the terminal.
func TestListenWritesNothing(t *testing.T) {
	t.Parallel()
	p := newPerson(t)
	for _, args := range [][]string{
		{"--for", "6s"}, {"--for", "6s", "--kind", "strawline board"}, {"--for", "2s", "--raw"},
		{"--for", "3s", "--kind", "lines", "--json"},
	} {
		board := newPrinter(t, 300*time.Millisecond, "\x1b[2Joven: 181.25 C\r\n")
		out, _ := listenFor(t, p, append([]string{board.path}, args...)...)
		assert.Empty(t, board.written(), "%q", args)
		assert.NotContains(t, out, "\x1b")
		switch {
		case args[len(args)-1] == "--raw":
			assert.Regexp(t, `^(.*\n)?(\\x1B\[2Joven: 181\.25 C\n)+$`, out)
		case args[len(args)-1] == "strawline board":
			assert.Contains(t, out, "not our line protocol; nothing was written")
			assert.NotContains(t, out, "understood: ")
			assert.NotContains(t, out, " reads ")
		case args[len(args)-1] != "--json":
			assert.Contains(t, out, `\x1B[2Joven: 181.25 C`)
			assert.Contains(t, out, "channel 1 = 181.25 °C")
		}
	}
}

// TestListenToAModule: a module of the shop file is asked for its readings and nothing else.
func TestListenToAModule(t *testing.T) {
	t.Parallel()
	slave := &modbus.Slave{Unit: 17, Input: []uint16{0, 0, 3562}}
	line := newAnswerer(t, 10*time.Millisecond, slave.Feed)
	p := newPerson(t)
	shop := p.write("shop.toml", `[[board]]
name = "module"
kind = "modbus"
port = "`+line.path+`"
[[board.channel]]
address = 17
register = 2
scale = 0.1
unit = "F"
`)
	out, _ := listenFor(t, p, "--shop", shop, "--for", "4s")
	require.Contains(t, out, "understood: channel 1 = input register 2 of module 17, int16 times "+
		"0.1 °F, as the shop file says\n")
	require.Contains(t, out, "channel 1 reads 180.11 °C (356.20 °F): good\n")
	require.Contains(t, out, " | 11 04 02 0D EA ")
	written := line.written()
	ask := "\x11\x04\x00\x02\x00\x01"
	require.GreaterOrEqual(t, strings.Count(written, ask), 3)
	require.Len(t, written, 8*strings.Count(written, ask), "nothing but requests to read")
}

func TestListenLeavesOutWhatNobodyCanRead(t *testing.T) {
	t.Parallel()
	board := newPrinter(t, 20*time.Millisecond, "oven: 181.25 C\r\n")
	out, _ := listenFor(t, newPerson(t), board.path, "--for", "4s")
	shown := strings.Count(out, " | oven: 181.25 C\n")
	require.LessOrEqual(t, shown, 5*mostLines)
	require.Greater(t, shown, mostLines)
	require.Regexp(t, `\| \d\d more lines of this second are left out\n`, out)
}

func TestListenAsksWhatTheLinesDoNotSay(t *testing.T) {
	t.Parallel()
	board := newPrinter(t, 300*time.Millisecond, "Oven temperature: 181.25\r\n")
	p := newPerson(t)
	out, _ := listenFor(t, p, board.path, "--for", "5s")
	require.Equal(t, 1, strings.Count(out, "the shop file has to say unit: "))
	require.Contains(t, out, "    unit = \"C\"\n  or\n    unit = \"F\"\n")
	require.NotContains(t, out, " reads ", "no reading without a unit")

	var a listenAnswer
	out, _ = listenFor(t, p, board.path, "--for", "3s", "--json")
	require.NoError(t, json.Unmarshal([]byte(out), &a))
	require.Empty(t, a.Channels)
	require.Empty(t, a.Understood)
	require.Equal(t, "unit", a.Questions[0].Key)
	require.Contains(t, a.Questions[0].Choices[1].Paste, "unit = \"F\"\n")

	// What was offered to be pasted is what it takes.
	shop := p.write("shop.toml", a.Questions[0].Choices[1].Paste)
	out, _ = listenFor(t, p, board.path, "--shop", shop, "--for", "4s")
	require.Contains(t, out, "channel 1 reads 82.92 °C (181.25 °F)")
}

func TestListenTriesOtherSpeeds(t *testing.T) {
	t.Parallel()
	board := newPrinter(t, 100*time.Millisecond, "\xf8\x80\x1c\xe6\xfe\x80\x26\x00\x98\x19\x80\x06")
	out, bad, code := newPerson(t).run("probes", "listen", board.path, "--for", "5s")
	require.Equal(t, exitOK, code, bad)
	require.Contains(t, out, "what comes is no text: trying 9600 baud\n")
	require.NotContains(t, out, "understood: ")
	require.Contains(t, out, "what they are could not be told")
}

// TestListenEnds: ctrl-c is how one leaves; to be told to end is no success.
func TestListenEnds(t *testing.T) {
	t.Parallel()
	p := newPerson(t)
	for sig, want := range map[syscall.Signal]int{syscall.SIGINT: exitOK,
		syscall.SIGTERM: exitSignal + int(syscall.SIGTERM)} {
		board := newPrinter(t, 100*time.Millisecond, "oven: 181.25 C\r\n")
		cmd := p.command("probes", "listen", board.path)
		out, err := cmd.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, cmd.Start())
		buf := make([]byte, 4096)
		var text strings.Builder
		for !strings.Contains(text.String(), " | oven") {
			n, err := out.Read(buf)
			require.NoError(t, err)
			text.Write(buf[:n])
		}
		require.NoError(t, cmd.Process.Signal(sig))
		for {
			n, err := out.Read(buf)
			text.Write(buf[:n])
			if err != nil {
				break
			}
		}
		err = cmd.Wait()
		if want != exitOK {
			var ended *exec.ExitError
			require.ErrorAs(t, err, &ended)
		}
		require.Equal(t, want, cmd.ProcessState.ExitCode())
		require.Contains(t, text.String(), " lines came, ")
	}
}

func TestListenHearsNothing(t *testing.T) {
	t.Parallel()
	board := newPrinter(t, time.Second)
	out, bad, code := newPerson(t).run("probes", "listen", board.path, "--for", "6s")
	require.Equal(t, exitUnavailable, code)
	require.Contains(t, bad, "nothing came")
	require.Contains(t, out, "nothing has come yet")
}

func TestListenBadInput(t *testing.T) {
	p := newPerson(t)
	p.write("shop.toml", strings.Replace(shopText, "PORT", "/dev/nowhere", 1))
	p.write("no-port", "a file")
	for _, c := range []struct {
		args []string
		code int
		want string
	}{
		{[]string{"a", "b"}, exitUsage, `"b" is too much`},
		{[]string{"a", "--json"}, exitUsage, "say --for how long"},
		{[]string{"a", "--json", "--raw", "--for", "1s"}, exitUsage, "choose one"},
		{[]string{"a", "--for", "10"}, exitUsage, "--for: "},
		{[]string{"a", "--for", "0s"}, exitUsage, "above 0"},
		{[]string{"a", "--baud", "0"}, exitUsage, "--baud 0 is not from 1 to 10000000"},
		{[]string{"a", "--baud", "1200"}, exitUsage, "bootloader"},
		{[]string{"a", "--baud", "9600", "--kind", "strawline board"}, exitUsage, "38400"},
		{[]string{"a", "--kind", "modbus"}, exitUsage, `no "modbus": there is strawline board, lines`},
		{[]string{"--board", "x"}, exitNoInput, "config/strawline/shop.toml"},
		{[]string{"--board", "temer", "--shop", "shop.toml"}, exitConfig, "did you mean temper?"},
		{[]string{"a", "--shop", "none.toml"}, exitNoInput, "none.toml"},
		{[]string{"--board", "temper", "--shop", "shop.toml"}, exitUnavailable, "/dev/nowhere"},
		{[]string{"/dev/none", "--for", "1s"}, exitUnavailable, "no such port"},
		{[]string{"no-port"}, exitData, "not a serial port"},
	} {
		out, bad, code := p.run(append([]string{"probes", "listen"}, c.args...)...)
		assert.Equal(t, c.code, code, "%q: %s", c.args, bad)
		assert.Contains(t, bad, c.want)
		assert.Equal(t, 1, strings.Count(bad, "\n"), bad)
		assert.True(t, strings.HasPrefix(bad, "strawline: probes: listen: "), bad)
		if c.code == exitUsage {
			assert.Empty(t, out)
		}
	}
}

// TestListenToABoardThatIsBack: behind an adapter that stayed the port was never closed.
func TestListenToABoardThatIsBack(t *testing.T) {
	for was, want := range map[probe.LinkState]string{
		probe.LinkOther:  "    0.00 s   it speaks again\n",
		probe.LinkSilent: "    0.00 s   it speaks again\n",
		probe.LinkGone:   "    0.00 s   the port is open again\n",
	} {
		var out bytes.Buffer
		l := &listening{h: &host{out: &out}, f: &listenFlags{}, port: port.New(port.Config{}, nil)}
		s := linkSaid{state: was, why: "it is away", away: was != probe.LinkSilent}
		s.say(l, probe.Link{State: probe.LinkUp})
		assert.Equal(t, want, out.String(), was)
		assert.False(t, s.away)
	}
}
