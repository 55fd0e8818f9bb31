package main

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/probe/thermocouple"
)

// The tools of the firmware and where a Debian system has them.
var (
	hostTools = map[string]string{"cc": "gcc libc6-dev", "make": "make"}
	avrTools  = map[string]string{"cc": "gcc libc6-dev", "make": "make", "avr-gcc": "gcc-avr avr-libc",
		"avr-objdump": "binutils-avr"}
	benchTools = map[string]string{"cc": "gcc libc6-dev", "make": "make", "avr-gcc": "gcc-avr avr-libc",
		"avr-objdump": "binutils-avr", "pkg-config": "pkg-config libsimavr-dev libelf-dev"}
	lintTools = map[string]string{"cppcheck": "cppcheck"}
)

// absent reports whether a tool is missing, and says how to get it. Where STRAWLINE_CI is set
// that is a failure.
func absent(t *testing.T, tools map[string]string) bool {
	t.Helper()
	var packages []string
	for tool, pack := range tools {
		if _, err := exec.LookPath(tool); err != nil {
			packages = append(packages, pack)
		}
	}
	if _, wanted := tools["pkg-config"]; wanted && len(packages) == 0 &&
		exec.Command("pkg-config", "--exists", "simavr").Run() != nil {
		packages = append(packages, "libsimavr-dev", "libelf-dev")
	}
	if len(packages) == 0 {
		return false
	}
	slices.Sort(packages)
	how := "the firmware was not tested here: apt-get install " + strings.Join(packages, " ")
	if os.Getenv("STRAWLINE_CI") == "1" {
		require.Fail(t, how)
	}
	t.Log(how)
	return true
}

// command runs a program and gives what it said on both its outputs; it must end well.
func command(t *testing.T, name string, args ...string) string {
	t.Helper()
	out, err := exec.Command(name, args...).CombinedOutput()
	require.NoError(t, err, "%s %v:\n%s", name, args, out)
	return string(out)
}

func firmwareDir(t *testing.T) string {
	t.Helper()
	return filepath.Join(repoRoot(t), "probe", "firmware")
}

// TestFirmwareOnHost builds the portable parts of the firmware for this machine and tests them.
func TestFirmwareOnHost(t *testing.T) {
	if absent(t, hostTools) {
		return
	}
	dir := t.TempDir()
	command(t, "make", "-s", "-C", filepath.Join(firmwareDir(t), "bench"), "BUILD="+dir, "host")
	t.Run("vectors", func(t *testing.T) { firmwareVectors(t, dir) })
	t.Run("parts", func(t *testing.T) { t.Log(command(t, filepath.Join(dir, "parts"))) })
	t.Run("words", func(t *testing.T) { firmwareWords(t, dir) })
	t.Run("oven", func(t *testing.T) { firmwareOven(t, dir) })
	t.Run("noise", func(t *testing.T) { firmwareNoise(t, dir) })
}

// firmwareVectors holds the board's codec and rules, in C, to the rows that the Go codec is
// held to as well: a field that changes in one of them fails its own test, and with the rows
// changed too it fails the other's.
func firmwareVectors(t *testing.T, dir string) {
	rows := filepath.Join(repoRoot(t), "testdata", "board", "vectors.txt")
	t.Log(command(t, filepath.Join(dir, "vectors"), rows))

	// One digit of a field of one good row, and the program says so.
	text, err := os.ReadFile(rows)
	require.NoError(t, err)
	wrong := filepath.Join(dir, "wrong.txt")
	broken := bytes.Replace(text, []byte("DC9C D 313 425\n"), []byte("DC9C D 313 426\n"), 1)
	require.NotEqual(t, text, broken)
	require.NoError(t, os.WriteFile(wrong, broken, 0o600))
	out, err := exec.Command(filepath.Join(dir, "vectors"), wrong).CombinedOutput()
	require.Error(t, err)
	require.Contains(t, string(out), "per mille: good D,313,425*DC9C")
}

// pipe speaks to the firmware's codec, rules and chips in a process of this machine.
type pipe struct {
	t   *testing.T
	in  *bufio.Writer
	out *bufio.Reader
}

func newPipe(t *testing.T, dir string) *pipe {
	t.Helper()
	cmd := exec.Command(filepath.Join(dir, "pipe"))
	in, err := cmd.StdinPipe()
	require.NoError(t, err)
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	t.Cleanup(func() {
		assert.NoError(t, in.Close())
		assert.NoError(t, cmd.Wait())
	})
	return &pipe{t: t, in: bufio.NewWriterSize(in, 1<<16), out: bufio.NewReaderSize(out, 1<<16)}
}

func (p *pipe) send(op byte, value uint32, rest []byte) {
	head := binary.LittleEndian.AppendUint32([]byte{op}, value)
	head = binary.LittleEndian.AppendUint16(head, uint16(len(rest)))
	p.in.Write(head)
	p.in.Write(rest)
}

// flush has the answers come out.
func (p *pipe) flush() {
	p.send('F', 0, nil)
	require.NoError(p.t, p.in.Flush())
}

func (p *pipe) get(n int) []byte {
	b := make([]byte, n)
	_, err := io.ReadFull(p.out, b)
	require.NoError(p.t, err)
	return b
}

// firmwareWords compares the board's view of chip words with the host's: the words of
// testdata/thermocouple, those with one bit changed, and all those of the MAX6675.
func firmwareWords(t *testing.T, dir string) {
	var entries []struct{ Chip, Hex string }
	text, err := os.ReadFile(filepath.Join(repoRoot(t), "testdata", "thermocouple", "chip_words.json"))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(text, &entries))
	words := []uint32{0, 1, math.MaxUint32, 0x0C601900}
	for _, e := range entries {
		if e.Chip != "MAX31855" || len(e.Hex) != 8 {
			continue
		}
		v, err := strconv.ParseUint(e.Hex, 16, 32)
		require.NoError(t, err)
		words = append(words, uint32(v))
	}
	require.Greater(t, len(words), 10)
	for _, w := range words {
		for bit := range 32 {
			words = append(words, w^1<<bit)
		}
	}
	p := newPipe(t, dir)
	latches := map[probe.Fault]probe.Latch{probe.FaultOpen: probe.LatchOpen,
		probe.FaultShortGround: probe.LatchShortGround,
		probe.FaultShortSupply: probe.LatchShortSupply, probe.FaultNoChip: probe.LatchNoChip}
	check := func(chip uint32, name string, words []uint32) {
		for batch := range slices.Chunk(words, 1000) { // whose answers fit into the pipe
			for _, word := range batch {
				p.send('W', chip, binary.LittleEndian.AppendUint32(nil, word))
			}
			p.flush()
			for _, word := range batch {
				b, m := p.get(3), thermocouple.Read(name, word)
				require.Equal(t, latches[m.Fault], probe.Latch(b[0]), "%s %08X", name, word)
				if m.Fault == probe.FaultNone {
					q := int16(binary.LittleEndian.Uint16(b[1:]))
					require.InDelta(t, float64(m.Own), float64(q)/4, 1e-9, "%s %08X", name, word)
				}
			}
		}
	}
	check(31855, "MAX31855K", words)
	words = words[:0]
	for w := range uint32(1 << 16) {
		words = append(words, w)
	}
	check(6675, "MAX6675", words)
}

// firmwareOven: the bench's oven goes the way of the reference trajectories, which an
// independent program wrote.
func firmwareOven(t *testing.T, dir string) {
	for _, c := range []struct{ oven, run, what string }{
		{"a", "cold", "steady"}, {"a", "step", "steady"}, {"a", "door", "door"},
		{"a", "empty", "empty"}, {"a", "load", "load"},
		{"b", "cold", "steady"}, {"b", "step", "steady"}, {"b", "door", "door"},
	} {
		name := fmt.Sprintf("oven-%s-%s.csv", c.oven, c.run)
		text, err := os.ReadFile(filepath.Join(repoRoot(t), "testdata", "plant", name))
		require.NoError(t, err)
		head := regexp.MustCompile(`(?m)^# duty (\S+)$`).FindSubmatch(text)
		require.NotNil(t, head, name)
		duty, err := strconv.ParseFloat(string(head[1]), 64)
		require.NoError(t, err)
		if c.run == "step" {
			duty += 0.05
		}
		_, rows, _ := strings.Cut(string(text), "probe_c\n")
		want := strings.Fields(rows)
		require.Len(t, want, 361)
		got := strings.Fields(command(t, filepath.Join(dir, "ovenrun"), c.oven,
			strconv.FormatFloat(duty, 'f', 10, 64), c.what, want[0]))
		require.Len(t, got, 361)
		worst := 0.0
		for i := range want {
			w, g := strings.Split(want[i], ","), strings.Split(got[i], ",")
			require.Equal(t, w[0], g[0])
			for k := 1; k < len(w); k++ {
				if k == 5 && (c.run == "empty" || c.run == "load" && i <= 180) {
					continue // no blade is in
				}
				a, err := strconv.ParseFloat(w[k], 64)
				require.NoError(t, err)
				b, err := strconv.ParseFloat(g[k], 64)
				require.NoError(t, err)
				worst = max(worst, math.Abs(a-b))
			}
		}
		assert.LessOrEqual(t, worst, 0.1, name)
		t.Logf("%s: largest distance %.5f °C", name, worst)
	}
}
