package shop

import (
	"bufio"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func fitted(of string, day int) func(*Found) error {
	return func(f *Found) error {
		f.Fitted = Put(f.Fitted, Entry[Fitted]{Of: of, Date: Date{2026, 1, day}})
		return nil
	}
}

// begun gives a store with one entry in it, and the file's bytes.
func begun(t *testing.T) (*Store, string, string) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "config", "found.toml")
	s := NewStore(path)
	f, err := s.Load()
	require.NoError(t, err)
	require.Equal(t, Found{}, f, "a file that is not there is empty")
	require.NoError(t, s.Update(fitted("air", 1)))
	return s, path, read(t, path)
}

func read(t *testing.T, path string) string {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(data)
}

func TestUpdate(t *testing.T) {
	s, path, _ := begun(t)
	require.NoError(t, s.Update(fitted("blade", 2)))
	require.NoError(t, s.Update(fitted("air", 3)))
	f, err := NewStore(path).Load()
	require.NoError(t, err)
	assert.Equal(t, []Entry[Fitted]{{Of: "air", Date: Date{2026, 1, 3}},
		{Of: "blade", Date: Date{2026, 1, 2}}}, f.Fitted)
	_, err = os.Stat(path + ".new")
	assert.ErrorIs(t, err, os.ErrNotExist)
}

// TestUpdateRefuses: an error of the change, findings that could not be read back, and a file
// that is broken or another version's leave the file as it is.
func TestUpdateRefuses(t *testing.T) {
	s, path, before := begun(t)
	no := errors.New("no")
	assert.ErrorIs(t, s.Update(func(f *Found) error { f.Fitted = nil; return no }), no)
	assert.Equal(t, before, read(t, path))
	var p *Problem
	assert.ErrorAs(t, s.Update(fitted("no name", 1)), &p)
	assert.Equal(t, before, read(t, path))
	for _, bad := range []string{"schema = 2\n", "half = \"a", "\x00"} {
		require.NoError(t, os.WriteFile(path, []byte(bad), 0o644))
		assert.ErrorAs(t, s.Update(fitted("air", 2)), &p)
		assert.Equal(t, bad, read(t, path))
	}
}

// TestFailedRename: a failure between the temporary file and the renaming leaves the old file
// whole and the lock free.
func TestFailedRename(t *testing.T) {
	s, path, before := begun(t)
	no := errors.New("no space for a name")
	s.rename = func(from, to string) error {
		assert.Equal(t, path, to)
		assert.Contains(t, read(t, from), "blade", "the new text is whole by then")
		return no
	}
	err := s.Update(fitted("blade", 2))
	assert.ErrorIs(t, err, no)
	assert.ErrorContains(t, err, "writing found file")
	assert.Equal(t, before, read(t, path))
	_, err = os.Stat(path + ".new")
	assert.ErrorIs(t, err, os.ErrNotExist)
	require.NoError(t, NewStore(path).Update(fitted("blade", 2)))
	assert.Contains(t, read(t, path), "blade")
}

// TestUnwritableFolder: a temporary file that cannot be made leaves the old file whole.
func TestUnwritableFolder(t *testing.T) {
	s, path, before := begun(t)
	require.NoError(t, os.Mkdir(path+".new", 0o755)) // in the way, for root as well
	assert.ErrorContains(t, s.Update(fitted("blade", 2)), path+".new")
	assert.Equal(t, before, read(t, path))
}

// TestLeftOver: what a crash left beside the file does not come into it.
func TestLeftOver(t *testing.T) {
	s, path, _ := begun(t)
	long := strings.Repeat("# half of somebody's text\n", 1000)
	require.NoError(t, os.WriteFile(path+".new", []byte(long), 0o644))
	require.NoError(t, s.Update(fitted("blade", 2)))
	assert.NotContains(t, read(t, path), "half")
	_, err := s.Load()
	assert.NoError(t, err)
}

// TestLink: a file that is a link stays one.
func TestLink(t *testing.T) {
	_, path, _ := begun(t)
	link := filepath.Join(t.TempDir(), "found.toml")
	require.NoError(t, os.Symlink(path, link))
	require.NoError(t, NewStore(link).Update(fitted("blade", 2)))
	info, err := os.Lstat(link)
	require.NoError(t, err)
	assert.NotZero(t, info.Mode()&os.ModeSymlink)
	assert.Contains(t, read(t, path), "blade")
}

// TestWritersTakeTurns: nothing that one of many writers found is lost, and a reader among them
// always sees a whole file.
func TestWritersTakeTurns(t *testing.T) {
	_, path, _ := begun(t)
	const writers, each = 8, 10
	errs := make(chan error, 2*writers*each)
	var all sync.WaitGroup
	for w := range writers {
		all.Add(1)
		go func() {
			defer all.Done()
			s := NewStore(path)
			for i := range each {
				errs <- s.Update(fitted(fmt.Sprintf("w%d-%d", w, i), 1))
				_, err := s.Load()
				errs <- err
			}
		}()
	}
	all.Wait()
	close(errs)
	for err := range errs {
		require.NoError(t, err)
	}
	f, err := NewStore(path).Load()
	require.NoError(t, err)
	assert.Len(t, f.Fitted, writers*each+1)
}

// The child process of TestKilled: it stands still between the temporary file and the renaming.
const childKey = "STRAWLINE_SHOP_TEST_CHILD"

func TestMain(m *testing.M) {
	path := os.Getenv(childKey)
	if path == "" {
		os.Exit(m.Run())
	}
	s := NewStore(path)
	if os.Getenv(childKey+"_ON") != "" {
		for i := 0; ; i++ { // until it is killed
			if err := s.Update(fitted("child", 1+i%2)); err != nil {
				fmt.Println(err)
				os.Exit(1)
			}
			fmt.Println(i)
		}
	}
	s.rename = func(string, string) error {
		fmt.Println("written")
		select {}
	}
	fmt.Println(s.Update(fitted("child", 2)))
}

// TestKilled: a process killed between the temporary file and the renaming leaves the old file
// whole, and its lock goes with it; a writer that waited for it then gets its turn.
func TestKilled(t *testing.T) {
	s, path, before := begun(t)
	child := exec.Command(os.Args[0])
	child.Env = append(os.Environ(), childKey+"="+path)
	out, err := child.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, child.Start())
	line, err := bufio.NewReader(out).ReadString('\n')
	require.NoError(t, err)
	require.Equal(t, "written\n", line)

	done := make(chan error, 1)
	go func() { done <- s.Update(fitted("waited", 3)) }()
	for range 1000 { // it cannot end while the child holds the lock
		select {
		case err := <-done:
			t.Fatalf("a second writer did not wait: %v", err)
		default:
		}
		require.Equal(t, before, read(t, path))
	}
	require.NoError(t, child.Process.Kill())
	_ = child.Wait()
	require.NoError(t, <-done)
	f, err := s.Load()
	require.NoError(t, err)
	assert.Nil(t, Get(f.Fitted, "child"))
	assert.NotNil(t, Get(f.Fitted, "air"))
	assert.NotNil(t, Get(f.Fitted, "waited"))
}

// TestKilledAnywhere kills a process that writes found.toml again and again at random moments: the
// file is one of those that it wrote, whole, and the next writer gets its turn.
func TestKilledAnywhere(t *testing.T) {
	n := 12
	if many, err := strconv.Atoi(os.Getenv("STRAWLINE_KILLS")); err == nil {
		n = many
	}
	seed := rand.Uint64()
	if part, err := strconv.ParseUint(os.Getenv("STRAWLINE_PART"), 10, 64); err == nil {
		seed = 1000 + part
	}
	dice := rand.New(rand.NewPCG(seed, 0))
	s, path, _ := begun(t)
	beside := 0
	for range n {
		child := exec.Command(os.Args[0])
		child.Env = append(os.Environ(), childKey+"="+path, childKey+"_ON=1")
		out, err := child.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, child.Start())
		in := bufio.NewScanner(out)
		require.True(t, in.Scan(), "it wrote once")
		timer := time.AfterFunc(time.Duration(dice.Int64N(int64(30*time.Millisecond))), func() {
			_ = child.Process.Kill()
		})
		for in.Scan() {
			_, err := strconv.Atoi(in.Text())
			require.NoError(t, err, in.Text())
		}
		timer.Stop()
		require.Error(t, child.Wait(), "it was killed")
		f, err := s.Load()
		require.NoError(t, err)
		require.Len(t, f.Fitted, 2)
		if _, err := os.Stat(path + ".new"); err == nil {
			beside++
		}
		require.NoError(t, s.Update(fitted("child", 1)), "the next writer gets its turn")
	}
	t.Logf("found files killed in writing: %d, seed %d, %d with a new file beside the old one", n,
		seed, beside)
}
