//go:build linux || darwin

package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

// holdings has every file of the person's with its content, folders left out.
func (p *person) holdings() map[string]string {
	p.t.Helper()
	all := map[string]string{}
	require.NoError(p.t, filepath.WalkDir(p.home, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		all[path] = string(data)
		return err
	}))
	return all
}

// running is the beginning of a run's command line; root must say that it means it.
func running(args ...string) []string {
	if os.Geteuid() == 0 {
		return append([]string{"run", "--as-root"}, args...)
	}
	return append([]string{"run"}, args...)
}

// emptyPort is a pseudo-terminal with nothing behind it.
func emptyPort(t *testing.T) (path string) {
	t.Helper()
	master, slave, err := pty.Open()
	require.NoError(t, err)
	t.Cleanup(func() {
		_ = slave.Close()
		_ = master.Close()
	})
	return slave.Name()
}

// TestBadRuns: each mistake gives one line on stderr, nothing on stdout, its exit code, and
// neither a file more nor a byte less.
func TestBadRuns(t *testing.T) {
	t.Parallel()
	p := newWholePerson(t)
	kept := p.write("kept.jsonl", "what was there\n")
	absent := filepath.Join(p.home, "ttyUSB7")
	hot := p.write("hot.toml", strings.NewReplacer("430F", "700F", "390F", "660F").Replace(goodProfile))
	busy := emptyPort(t)
	held, err := os.OpenFile(busy, os.O_RDWR|syscall.O_NOCTTY, 0)
	require.NoError(t, err)
	defer held.Close()
	require.NoError(t, unix.Flock(int(held.Fd()), unix.LOCK_EX|unix.LOCK_NB))
	fast := []string{"demo", "--pace", "max"}
	for _, c := range []struct {
		name string
		args []string
		code int
		want []string
	}{
		{"unknown profile", append(fast, "--profile", "small-knive"), exitNoInput,
			[]string{`"small-knive"`, "did you mean small-knife?"}},
		{"unknown profile of a run", running("kitchin", "--port", absent), exitNoInput,
			[]string{"did you mean kitchen?"}},
		{"unit missing", running("--at", "400", "--for", "2h", "--port", absent), exitUsage,
			[]string{"--at", `"400" has no unit`, "400F"}},
		{"unit of a span missing", running("--at", "400F", "--for", "2", "--port", absent), exitUsage,
			[]string{"--for", `"2"`}},
		{"unit of the limit missing", running("kitchen", "--limit", "250", "--port", absent),
			exitUsage, []string{"--limit", "has no unit"}},
		{"400 °C", running("--at", "400C", "--for", "2h", "--port", absent), exitConfig,
			[]string{"above the oven's limit of 250 °C"}},
		{"400 °C, limit said", running("--at", "400C", "--for", "2h", "--limit", "250C", "--port",
			absent), exitConfig, []string{"above the oven's limit of 250 °C"}},
		{"profile above a low limit", running("small-knife", "--limit", "200C", "--port", absent),
			exitConfig, []string{"above the oven's limit of 392 °F"}},
		{"demo above the oven's limit", append(fast, "--profile", hot), exitConfig,
			[]string{"limit of 700 °F", "the oven's limit of 482 °F"}},
		{"port absent", running("kitchen", "--port", absent), exitUnavailable,
			[]string{absent, "no such port"}},
		{"port busy", running("kitchen", "--port", busy), exitTemporary,
			[]string{busy, "another program has it"}},
		{"a file is no port", running("kitchen", "--port", kept), exitData,
			[]string{kept, "not a serial port"}},
		{"a folder is no port", running("kitchen", "--port", p.home), exitData,
			[]string{p.home, "not a serial port"}},
		{"the null device is no port", running("kitchen", "--port", os.DevNull), exitData,
			[]string{"not a serial port"}},
		{"no port", running("kitchen"), exitUsage, []string{"say which port"}},
		{"board on an absent port", []string{"probes", "board", "--port", absent}, exitUnavailable,
			[]string{absent, "no such port"}},
		{"board on a busy port", []string{"probes", "board", "--port", busy}, exitTemporary,
			[]string{busy, "another program has it"}},
		{"demo's file exists", append(fast, "--out", kept), exitCannotMake,
			[]string{kept, "exists already"}},
		{"run's file exists", running("kitchen", "--port", absent, "--out", kept), exitCannotMake,
			[]string{kept, "exists already"}},
		{"file's folder is not there", append(fast, "--out", filepath.Join(p.home, "no", "run")),
			exitCannotMake, []string{"folder does not exist"}},
		{"oven file absent", append(fast, "--oven", absent), exitNoInput, []string{absent}},
		{"oven file is none", append(fast, "--oven", kept), exitData, []string{kept, "line 1"}},
		{"unknown fault", append(fast, "--fault", "opne@40m"), exitUsage, []string{`"opne"`, "open"}},
		{"fault without time", append(fast, "--fault", "open"), exitUsage, []string{"open@40m"}},
		{"fault without unit", append(fast, "--fault", "open@40"), exitUsage, []string{`"40"`}},
		{"unknown person", append(fast, "--person", "stays"), exitUsage, []string{"goes-on, away"}},
		{"pace of nothing", []string{"demo", "--pace", "0"}, exitUsage, []string{"max"}},
		{"seed below 0", append(fast, "--seed", "-7"), exitUsage, []string{`"-7"`}},
		{"replay of nothing", []string{"replay", absent}, exitNoInput, []string{absent, "no such file"}},
		{"replay of a folder", []string{"replay", p.home}, exitData, []string{"no regular file"}},
		{"replay of another file", []string{"replay", kept}, exitData, []string{"no head of a run file"}},
		{"replay without a name", []string{"replay"}, exitUsage, []string{"the run file is missing"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			before := p.holdings()
			p.pipes(c.args...).refused(t, c.code, c.want...)
			assert.Equal(t, before, p.holdings())
		})
	}
}

// TestBusyPort: a second run on the port that a first one waits at is refused; the first one
// ends as it is told and leaves nothing, because no board has proved itself.
func TestBusyPort(t *testing.T) {
	t.Parallel()
	p := newWholePerson(t)
	path := emptyPort(t)
	first := p.whole(running("kitchen", "--port", path, "--plain")...)
	var bad bytes.Buffer
	first.Stderr = &bad
	require.NoError(t, first.Start())
	probe, err := os.OpenFile(path, os.O_RDWR|syscall.O_NOCTTY, 0)
	require.NoError(t, err)
	require.Eventually(t, func() bool {
		if unix.Flock(int(probe.Fd()), unix.LOCK_EX|unix.LOCK_NB) == unix.EWOULDBLOCK {
			return true
		}
		_ = unix.Flock(int(probe.Fd()), unix.LOCK_UN)
		return false
	}, patience, 20*time.Millisecond, "the first run does not take the lock")
	require.NoError(t, probe.Close())

	p.pipes(running("kitchen", "--port", path, "--plain")...).refused(t, exitTemporary, path,
		"another program has it")
	require.NoError(t, first.Process.Signal(syscall.SIGTERM))
	_ = first.Wait() // its code is looked at
	assert.Equal(t, exitSignal+int(syscall.SIGTERM), first.ProcessState.ExitCode(), bad.String())
	assert.Equal(t, 1, strings.Count(bad.String(), "\n"), bad.String())
	assert.Empty(t, p.holdings())
}

// TestForbiddenPort: the message names the group to join. Root is forbidden nothing, so that as
// root the program is run as the user nobody.
func TestForbiddenPort(t *testing.T) {
	t.Parallel()
	path := emptyPort(t)
	info, err := os.Stat(path)
	require.NoError(t, err)
	gid := strconv.Itoa(int(info.Sys().(*syscall.Stat_t).Gid))
	group := "number " + gid
	if g, err := user.LookupGroupId(gid); err == nil {
		group = g.Name
	}
	for _, c := range []struct {
		mode os.FileMode
		want string
	}{
		{0o060, "join the group " + group},
		{0o000, "nor has its group " + group},
	} {
		mode := c.mode
		home, err := os.MkdirTemp("", "strawline-nobody-")
		require.NoError(t, err)
		defer os.RemoveAll(home)
		p := &person{t: t, home: home}
		cmd := p.command("run", "kitchen", "--port", path)
		if os.Geteuid() == 0 {
			const nobody = 65534
			mode |= 0o600 // as the system makes it
			require.NoError(t, os.Chmod(home, 0o777))
			require.NoError(t, os.Chmod(filepath.Dir(built), 0o755))
			cmd.SysProcAttr = &syscall.SysProcAttr{
				Credential: &syscall.Credential{Uid: nobody, Gid: nobody}}
		}
		require.NoError(t, os.Chmod(path, mode))
		g := ended(t, cmd)
		g.refused(t, exitNoRight, path, c.want)
		assert.Empty(t, p.holdings())
	}
	require.NoError(t, os.Chmod(path, 0o600))
}

// ended runs a command to its end.
func ended(t *testing.T, cmd *exec.Cmd) told {
	t.Helper()
	var out, bad bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &bad
	require.NoError(t, cmd.Start())
	timer := time.AfterFunc(patience, func() { _ = cmd.Process.Kill() })
	defer timer.Stop()
	_ = cmd.Wait() // its code is looked at
	return told{out: out.String(), bad: bad.String(), code: cmd.ProcessState.ExitCode()}
}

// TestRootIsRefused looks at the rule from whichever side the test stands on: root is refused
// before anything is opened, anybody else gets as far as the port.
func TestRootIsRefused(t *testing.T) {
	t.Parallel()
	p := newWholePerson(t)
	path := emptyPort(t)
	g := p.pipes("run", "kitchen", "--port", filepath.Join(p.home, "none"))
	if os.Geteuid() == 0 {
		g.refused(t, exitNoRight, "root", "--as-root")
		p.pipes("run", "kitchen", "--port", path).refused(t, exitNoRight, "root", "--as-root")
		g = p.pipes("run", "kitchen", "--as-root", "--port", filepath.Join(p.home, "none"))
	}
	g.refused(t, exitUnavailable, "no such port")
	assert.Empty(t, p.holdings())
}

// sealed gives a line of a run file the hash that follows from the digits before it.
func sealed(body, before string) string {
	sum := sha256.Sum256([]byte(before + body))
	return body + `,"h":"` + hex.EncodeToString(sum[:3]) + "\"}\n"
}

// TestBadRunFiles: a run file that was cut within its head, changed, or written by another
// version is refused in one line; one that was cut behind it shows what there is, and says
// what it lost. No replay changes a file.
func TestBadRunFiles(t *testing.T) {
	t.Parallel()
	p := newWholePerson(t)
	p.demoTo("good.jsonl", "demo", "--plain", "--pace", "max", "--seed", "7", "--profile",
		wholeData(t, "whole/many-events.toml"))
	whole, err := os.ReadFile(filepath.Join(p.home, "good.jsonl"))
	require.NoError(t, err)
	lines := p.pipes("replay", filepath.Join(p.home, "good.jsonl"), "--plain", "--pace", "max").out
	path := filepath.Join(p.home, "bad.jsonl")
	replay := func(data []byte) told {
		require.NoError(t, os.WriteFile(path, data, 0o600))
		g := p.pipes("replay", path, "--plain", "--pace", "max")
		after, err := os.ReadFile(path)
		require.NoError(t, err)
		require.True(t, bytes.Equal(data, after), "a replay changes nothing")
		return g
	}
	replay(nil).refused(t, exitData, path, "it is empty")

	head := bytes.IndexByte(whole, '\n') + 1
	for at := 1; at < head; at += 7 {
		replay(whole[:at]).refused(t, exitData, path)
	}
	body, _, ok := strings.Cut(string(whole[:head]), `,"h":`)
	require.True(t, ok)
	require.Equal(t, string(whole[:head]), sealed(body, ""), "this test makes the hash alike")
	for _, schema := range []string{"0", "2", "999"} {
		other := sealed(strings.Replace(body, `"schema":1,`, `"schema":`+schema+",", 1), "")
		replay(append([]byte(other), whole[head:]...)).refused(t, exitData, path,
			"schema "+schema, "schema 1")
	}

	const tail = 2048
	for at := len(whole) - tail; at < len(whole); at += 7 {
		g := replay(whole[:at])
		assert.Equal(t, exitOK, g.code, g.bad)
		assert.Empty(t, g.bad)
		torn := at - 1 - bytes.LastIndexByte(whole[:at], '\n')
		said, lost, cut := strings.Cut(g.out, "lost: ")
		assert.Equal(t, torn > 0, cut, "cut at %d", at)
		if torn > 0 {
			assert.Equal(t, fmt.Sprintf("the last %d bytes are no whole record\n", torn), lost)
		}
		assert.True(t, strings.HasPrefix(lines, said))
	}

	for _, at := range []int{head + 100, len(whole) / 2, len(whole) - 300} {
		number := 1 + bytes.Count(whole[:at], []byte("\n"))
		changed := bytes.Clone(whole)
		digit := at + bytes.IndexAny(changed[at:], "0123456789")
		changed[digit] = '0' + (changed[digit]-'0'+1)%10
		if digit >= at+bytes.IndexByte(changed[at:], '\n') {
			number++
		}
		replay(changed).refused(t, exitData, path, fmt.Sprintf("line %d", number))
	}
}
