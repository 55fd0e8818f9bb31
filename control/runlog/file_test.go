package runlog

import (
	"bytes"
	"fmt"
	"io/fs"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/control"
)

func TestWriteAndRead(t *testing.T) {
	path := newPath(t)
	w, err := Create(path, testInfo())
	require.NoError(t, err)
	var want []control.Record
	for i := range 3000 {
		r := sampleRecord(i)
		if i%100 == 7 {
			r = eventRecord(testSample(i).T, control.EvNote, "größer <& \u2028 than \"that\"")
		}
		require.NoError(t, w.Append(r))
		want = append(want, RoundRecord(r))
	}
	require.NoError(t, w.Close())
	f, all := readAll(t, path)
	assert.Equal(t, want, all)
	assert.Equal(t, w.Info(), f.Info)
	assert.Equal(t, Schema, f.Info.Schema)
	assert.Equal(t, testInfo().Start, f.Info.Start)
	assert.Equal(t, testSample(2999).T, f.Last)
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.True(t, bytes.HasPrefix(text, []byte(`{"n":0,"record":"head","key_units":{`)))
	assert.Contains(t, string(text[:1000]), `"simulated":true`)
}

func TestCreateRefuses(t *testing.T) {
	path := newPath(t)
	require.NoError(t, os.WriteFile(path, []byte("mine"), 0o644))
	_, err := Create(path, testInfo())
	require.ErrorIs(t, err, fs.ErrExist)
	assert.EqualError(t, err, "create run file "+path+": it exists already; choose another name")
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "mine", string(text))

	_, err = Create(filepath.Join(path+"x", "y"), testInfo())
	require.ErrorIs(t, err, fs.ErrNotExist)
	assert.ErrorContains(t, err, "its folder does not exist; make the folder first")

	info := testInfo()
	info.Schema = Schema + 1
	_, err = Create(path+"2", info)
	require.ErrorIs(t, err, ErrVersion)
	info = testInfo()
	info.Shop.LimitC = math.NaN()
	_, err = Create(path+"2", info)
	require.ErrorIs(t, err, ErrRefused)
	_, err = os.Stat(path + "2")
	require.ErrorIs(t, err, fs.ErrNotExist, "a file without a head was left behind")
}

func TestErrorLines(t *testing.T) {
	cases := []struct {
		op   string
		err  error
		want string
	}{
		{"create", &fs.PathError{Op: "open", Path: "r", Err: syscall.EACCES}, "create run file r: " +
			"you have no right to; look at the owner and rights of file and folder"},
		{"create", &fs.PathError{Op: "write", Path: "r", Err: syscall.ENOSPC},
			"create run file r: no space left on device; make room on the disk"},
		{"read", &fs.PathError{Op: "open", Path: "r", Err: syscall.ENOENT},
			"read run file r: there is no such file; check the name"},
		{"recover", &fs.PathError{Op: "open", Path: "r", Err: syscall.EIO},
			"recover run file r: input/output error"},
	}
	for _, c := range cases {
		err := openError(c.op, "r", c.err)
		assert.EqualError(t, err, c.want)
		assert.ErrorIs(t, err, c.err)
	}
}

// TestCutAnywhere cuts a run at every byte: what is whole opens, and what is lost is said.
func TestCutAnywhere(t *testing.T) {
	path := newPath(t)
	writeRun(t, path, 12)
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	_, whole := readAll(t, path)
	head := bytes.IndexByte(text, '\n') + 1
	for _, nul := range []int{0, 1, 4096, 300_000} {
		for cut := 0; cut <= len(text); cut++ {
			if nul > 4096 && cut%61 != 0 {
				continue
			}
			data := append(bytes.Clone(text[:cut]), make([]byte, nul)...)
			f, err := scan(bytes.NewReader(data), int64(len(data)), false)
			if cut < head {
				require.ErrorIs(t, err, ErrNoRun, "cut at %d", cut)
				continue
			}
			require.NoError(t, err, "cut at %d", cut)
			good := bytes.LastIndexByte(text[:cut], '\n') + 1
			require.Equal(t, Tail{Bytes: int64(cut - good + nul), NUL: int64(nul)}, f.Tail)
			require.Equal(t, f.Tail.String(), f.Lost())
			all, err := f.All()
			require.NoError(t, err)
			require.Equal(t, whole[:bytes.Count(text[:cut], []byte("\n"))-1], all)
		}
	}
	assert.Equal(t, "the last 37 bytes are no whole record", Tail{Bytes: 37}.String())
	assert.Equal(t, "the last 9 bytes are NUL bytes and no record", Tail{9, 9}.String())
	assert.Contains(t, Tail{9, 3}.String(), "(3 of them NUL bytes)")
	assert.Empty(t, Tail{}.String())
}

// TestRecoverAnywhere does the same with the file itself and goes on from there.
func TestRecoverAnywhere(t *testing.T) {
	path := newPath(t)
	writeRun(t, path, 3)
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	head := bytes.IndexByte(text, '\n') + 1
	for cut := head; cut <= len(text); cut += 5 {
		require.NoError(t, os.WriteFile(path, text[:cut], 0o644))
		w, tail, err := Recover(path)
		require.NoError(t, err)
		good := bytes.LastIndexByte(text[:cut], '\n') + 1
		require.Equal(t, int64(cut-good), tail.Bytes)
		require.Equal(t, testInfo().Run, w.Info().Run)
		require.NoError(t, w.Append(sampleRecord(100)))
		require.NoError(t, w.Close())
		_, all := readAll(t, path)
		lines := bytes.Count(text[:cut], []byte("\n"))
		require.Len(t, all, lines+1)
		require.Equal(t, control.EvLost, all[lines-1].Event.Kind)
		require.Equal(t, "recovered", all[lines-1].Event.Code)
		require.Contains(t, all[lines-1].Event.Text, tail.String())
		require.Equal(t, testSample(100).T, all[lines].Sample.T)
	}
}

func TestRecoverRefuses(t *testing.T) {
	path := newPath(t)
	_, _, err := Recover(path)
	require.ErrorIs(t, err, fs.ErrNotExist)
	w, err := Create(path, testInfo())
	require.NoError(t, err)
	_, _, err = Recover(path)
	require.ErrorIs(t, err, ErrBusy)
	assert.ErrorContains(t, err, "another process writes it; watch that run, or stop it first")
	require.NoError(t, w.Append(sampleRecord(1)))
	require.NoError(t, w.Append(sampleRecord(2)))
	require.NoError(t, w.Close())
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	text[len(text)-200] ^= 1 // in the line before the last
	require.NoError(t, os.WriteFile(path, text, 0o644))
	_, _, err = Recover(path)
	require.ErrorIs(t, err, ErrBroken)
	after, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, text, after, "a broken file was changed")
}

// TestBitFlips: every single flipped bit is found, either by the chain or as a torn tail.
func TestBitFlips(t *testing.T) {
	path := newPath(t)
	writeRun(t, path, 6)
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	for i := range text {
		for bit := range 8 {
			bad := bytes.Clone(text)
			bad[i] ^= 1 << bit
			f, err := scan(bytes.NewReader(bad), int64(len(bad)), false)
			if err == nil {
				require.Equal(t, len(text)-1, i, "bit %d of byte %d was not seen", bit, i)
				require.NotZero(t, f.Tail.Bytes)
			}
		}
	}
}

// damage gives the text with one line changed by f; lines count from 1.
func damage(text []byte, line int, f func(string) string) []byte {
	list := strings.SplitAfter(string(text), "\n")
	list[line-1] = f(list[line-1])
	return []byte(strings.Join(list, ""))
}

func TestBrokenInTheMiddle(t *testing.T) {
	path := newPath(t)
	writeRun(t, path, 20) // lines: head, start, 20 samples, end
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	_, whole := readAll(t, path)
	cases := []struct {
		name  string
		f     func(string) string
		wrong string
		left  int // records left when reading on
		line  int // first broken line
	}{
		{"value", func(s string) string { return strings.Replace(s, `"duty_pm":7`, `"duty_pm":8`, 1) },
			"its hash does not follow", 21, 10},
		{"hash", func(s string) string {
			return s[:len(s)-4] + string(s[len(s)-4]^1) + s[len(s)-3:]
		}, "its hash does not follow", 20, 10},
		{"gone", func(string) string { return "" }, "its hash does not follow", 20, 10},
		{"twice", func(s string) string { return s + s }, "its hash does not follow", 22, 11},
		{"garbage", func(string) string { return "garbage\n" }, "does not end in a hash", 20, 10},
		{"blank", func(s string) string { return s + "\n" }, "does not end in a hash", 21, 11},
		{"hole", func(s string) string { return s[:10] + string(make([]byte, 4096)) + "\n" },
			"does not end in a hash", 20, 10},
		{"long", func(s string) string { return strings.Repeat("x", 3*maxLine) + "\n" },
			"longer than any line", 20, 10},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			bad := newPath(t)
			require.NoError(t, os.WriteFile(bad, damage(text, 10, c.f), 0o644))
			_, err := Open(bad)
			require.ErrorIs(t, err, ErrBroken)
			var e *Error
			require.ErrorAs(t, err, &e)
			assert.Equal(t, c.line, e.Line)
			assert.ErrorContains(t, err, c.wrong)
			assert.NotContains(t, err.Error(), "\n")
			assert.True(t, IsFile(err))
			f, err := OpenReadOn(bad)
			require.NoError(t, err)
			defer f.Close()
			require.Len(t, f.Breaks, 1)
			assert.Equal(t, c.line, f.Breaks[0].Line)
			assert.Contains(t, f.Lost(), fmt.Sprintf("the first is line %d", c.line))
			assert.Contains(t, f.Breaks[0].Why, c.wrong)
			all, err := f.All()
			require.NoError(t, err)
			require.Len(t, all, c.left)
			assert.Equal(t, whole[:8], all[:8])
			assert.Equal(t, whole[len(whole)-10:], all[len(all)-10:])
		})
	}
}

// TestSealedButWrong: lines with a good hash that no encoder of ours writes.
func TestSealedButWrong(t *testing.T) {
	d := &fakeDisk{room: plenty}
	w := startFake(t, d)
	require.NoError(t, w.put([]byte(`"t_s":1,"duty_pm":1,"surprise":1`)))
	_, err := scan(bytes.NewReader(d.data), int64(len(d.data)), false)
	require.ErrorContains(t, err, `at ",\"surprise\":1"`)
	require.ErrorIs(t, err, ErrBroken)

	d = &fakeDisk{room: plenty}
	w = startFake(t, d)
	w.n = 5
	require.NoError(t, w.Append(sampleRecord(1)))
	_, err = scan(bytes.NewReader(d.data), int64(len(d.data)), false)
	require.ErrorContains(t, err, "its running number is 5, not 1")
}

func TestNoRunFile(t *testing.T) {
	cases := []struct {
		name, text, wrong string
		is                error
	}{
		{"empty", "", "it is empty", ErrNoRun},
		{"text", "hello\n", "no head of a run file", ErrNoRun},
		{"json", "{}\n", "no head of a run file", ErrNoRun},
		{"half", `{"n":0,"record":"head"`, "no whole first line", ErrNoRun},
		{"big", strings.Repeat("x", 3*maxLine) + "\n", "no head of a run file", ErrNoRun},
		{"version", `{"n":0,"record":"head","schema":2}` + "\n",
			"it has schema 2 and this program reads schema 1; read it with the version that " +
				"wrote it", ErrVersion},
		{"no hash", `{"n":0,"record":"head","schema":1}` + "\n", "no number 0 or no hash",
			ErrBroken},
		{"changed", `{"n":0,"record":"head","schema":1,"h":"000000"}` + "\n",
			"not as it was written", ErrBroken},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			path := newPath(t)
			require.NoError(t, os.WriteFile(path, []byte(c.text), 0o644))
			for _, open := range []func(string) (*File, error){Open, OpenReadOn} {
				_, err := open(path)
				require.ErrorIs(t, err, c.is)
				assert.ErrorContains(t, err, "read run file "+path)
				assert.ErrorContains(t, err, c.wrong)
			}
		})
	}
	_, err := Open(filepath.Join(t.TempDir(), "none"))
	require.ErrorIs(t, err, fs.ErrNotExist)
	_, err = Open(t.TempDir())
	require.ErrorIs(t, err, ErrNoRun)
}

// TestReadOnNeverUnchecked: under random damage every record read on is one that was written.
func TestReadOnNeverUnchecked(t *testing.T) {
	path := newPath(t)
	writeRun(t, path, 60)
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	f, whole := readAll(t, path)
	known := map[time.Duration]control.Record{}
	for _, r := range whole {
		if r.Sample != nil {
			known[r.Sample.T] = r
		}
	}
	seed := rand.Uint64()
	t.Log("seed", seed)
	rnd := rand.New(rand.NewPCG(seed, 1))
	for range 300 {
		bad := bytes.Clone(text)
		for range 1 + rnd.IntN(5) {
			i := int(f.body) + rnd.IntN(len(bad)-int(f.body))
			bad[i] = byte(rnd.Uint32())
		}
		g, err := scan(bytes.NewReader(bad), int64(len(bad)), true)
		require.NoError(t, err)
		all, err := g.All()
		require.NoError(t, err)
		require.GreaterOrEqual(t, len(all), len(whole)-15)
		last := time.Duration(-1)
		for _, r := range all {
			if r.Sample != nil {
				require.Equal(t, known[r.Sample.T], r)
				require.Greater(t, r.Sample.T, last)
				last = r.Sample.T
			}
		}
	}
}
