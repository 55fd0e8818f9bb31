package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// bench is the built firmware with its simulated board.
type bench struct {
	program, firmware string
	stack             int // bytes, the bound that was worked out
}

// TestFirmwareOnBench builds the firmware for its processor and runs it in a simulated one.
func TestFirmwareOnBench(t *testing.T) {
	if absent(t, benchTools) {
		return
	}
	dir := t.TempDir()
	b := bench{program: filepath.Join(dir, "bench"), firmware: filepath.Join(dir, "fw", "firmware.elf")}
	command(t, "make", "-s", "-C", firmwareDir(t), "BUILD="+filepath.Join(dir, "fw"))
	command(t, "make", "-s", "-C", filepath.Join(firmwareDir(t), "bench"), "BUILD="+dir,
		b.program)
	b.stack = firmwareSize(t, filepath.Join(dir, "fw"), "")
	t.Run("size", func(t *testing.T) { firmwareSizes(t, dir) })
	t.Run("like sim", func(t *testing.T) { firmwareLikeSim(t, b) })
	t.Run("a temper", func(t *testing.T) { firmwareTemper(t, b) })
	t.Run("a proof", func(t *testing.T) { firmwareProof(t, b) })
	t.Run("faults", func(t *testing.T) { firmwareFaults(t, b) })
}

var sizeRow = regexp.MustCompile(`(?m)^flash (\d+) of (\d+)\nram (\d+) with a stack of (\d+): ` +
	`(\d+) of (\d+)$`)

// firmwareSize has make hold the firmware to its limits and gives the bound of its stack.
func firmwareSize(t *testing.T, dir, defs string) int {
	t.Helper()
	out := command(t, "make", "-s", "-C", firmwareDir(t), "BUILD="+dir, "DEFS="+defs, "size")
	row := sizeRow.FindStringSubmatch(out)
	require.NotNil(t, row, out)
	n := make([]int, len(row))
	for i := range row[1:] {
		v, err := strconv.Atoi(row[i+1])
		require.NoError(t, err)
		n[i+1] = v
	}
	assert.Equal(t, []int{8192, 512}, []int{n[2], n[6]}, "the limits asked for")
	assert.LessOrEqual(t, n[1], 8192)
	assert.LessOrEqual(t, n[5], 512)
	assert.Equal(t, n[5], n[3]+n[4])
	t.Logf("%s: %s", defs, bytes.TrimSpace([]byte(row[0])))
	return n[4]
}

// firmwareSizes: every kind of board is within the limits, and a limit can be missed.
func firmwareSizes(t *testing.T, dir string) {
	for i, defs := range []string{"-DCHANNELS=4", "-DCHIP=6675 -DCHANNELS=1", "-DCHIP=6675 -DCHANNELS=4"} {
		firmwareSize(t, filepath.Join(dir, "size"+strconv.Itoa(i)), defs)
	}
	for _, limit := range []string{"FLASH_LIMIT=5000", "RAM_LIMIT=400"} {
		out, err := exec.Command("make", "-s", "-C", firmwareDir(t), "BUILD="+filepath.Join(dir, "fw"),
			limit, "size").CombinedOutput()
		assert.Error(t, err, "%s:\n%s", limit, out)
	}
	stack := filepath.Join(firmwareDir(t), "check", "stack.awk")
	for name, listing := range map[string]string{
		"a circle":      "00 <main>:\n 0:\t00 00\trcall\t.-2\t; 0x4 <f>\n04 <f>:\n 4:\t00\trcall\t.+2\t; 0x0 <main>\n",
		"calls what is": "00 <main>:\n 0:\t00 00 \ticall\n",
		"has a frame":   "00 <main>:\n 0:\t00\tcall\t4\t; 0x4 <g>\n04 <g>:\n 4:\t00\tout\t0x3d, r28\n",
		"no main":       "00 <f>:\n 0:\t00\tret\n",
	} {
		file := filepath.Join(t.TempDir(), "listing")
		require.NoError(t, os.WriteFile(file, []byte(listing), 0o600))
		cmd := exec.Command("awk", "-f", stack, "-", file)
		cmd.Stdin = bytes.NewBufferString("x.c:1:1:main\t4\tstatic\nx.c:2:1:f\t4\tstatic\n")
		out, err := cmd.CombinedOutput()
		assert.Error(t, err, name)
		assert.Contains(t, string(out), name)
	}
}

// TestFirmwareLint: the checker of C finds nothing.
func TestFirmwareLint(t *testing.T) {
	if absent(t, lintTools) {
		return
	}
	var files []string
	for _, pattern := range []string{"*.c", "check/*.c", "bench/*.c"} {
		f, err := filepath.Glob(filepath.Join(firmwareDir(t), pattern))
		require.NoError(t, err)
		require.NotEmpty(t, f)
		files = append(files, f...)
	}
	args := []string{"--quiet", "--std=c99", "--error-exitcode=1", "--suppress=missingIncludeSystem",
		"--enable=warning,style,performance,portability", "-j2"}
	command(t, "cppcheck", append(args, files...)...)
	command(t, "cppcheck", append(append(args, "-D__AVR__"), files...)...)

	bad := filepath.Join(t.TempDir(), "bad.c")
	require.NoError(t, os.WriteFile(bad, []byte("int f(void) { int a[2]; return a[2]; }\n"), 0o600))
	_, err := exec.Command("cppcheck", append(args, bad)...).CombinedOutput()
	assert.Error(t, err, "it does find something")
}
