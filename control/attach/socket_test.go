//go:build linux || darwin

package attach

import (
	"context"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// served is a server on a real socket.
func served(t *testing.T, h House) (*Socket, Door) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "s", "k.sock")
	k, err := Listen(path)
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	s := NewServer(Config{Build: "this", House: h, Now: time.Now, Complain: func(error) {}})
	go func() {
		defer close(done)
		_ = s.Serve(ctx, k)
	}()
	t.Cleanup(func() {
		cancel()
		<-done
		require.NoFileExists(t, path)
	})
	return k, Door{Path: path, Me: Hello{Name: "pts/1"}, Now: time.Now}
}

func TestSocket(t *testing.T) {
	h := &fakeHouse{}
	k, d := served(t, h)
	dir, err := os.Stat(filepath.Dir(d.Path))
	require.NoError(t, err)
	require.EqualValues(t, 0o700, dir.Mode().Perm())
	file, err := os.Stat(d.Path)
	require.NoError(t, err)
	require.EqualValues(t, 0o600, file.Mode().Perm())
	_, err = Listen(d.Path)
	require.ErrorIs(t, err, ErrTaken)
	h.at(0, 20)
	w, err := d.Watch(t.Context(), "")
	require.NoError(t, err)
	defer w.Close()
	_, err = w.Next(t.Context())
	require.NoError(t, err)

	// Its file, its lock and then the whole folder go away: they are made again, and who is
	// connected stays.
	for _, gone := range []string{d.Path, d.Path + ".lock", filepath.Dir(d.Path)} {
		require.NoError(t, os.RemoveAll(gone))
		require.NoError(t, k.mend())
		_, err = d.Look(t.Context())
		require.NoError(t, err, gone)
		_, err = Listen(d.Path)
		require.ErrorIs(t, err, ErrTaken)
	}
	h.at(time.Second, 21)
	s, err := w.Next(t.Context())
	require.NoError(t, err)
	require.Equal(t, time.Second, s.T)
}

func TestGivingUpAnUnfinishedRun(t *testing.T) {
	_, d := served(t, &fakeHouse{})
	o, err := d.GiveUp(t.Context(), "cut")
	require.NoError(t, err)
	require.Equal(t, Outcome{Word: "stopped", Out: "c.jsonl"}, o)
	_, err = d.GiveUp(t.Context(), "kitchen")
	var no *Refusal
	require.ErrorAs(t, err, &no)
	require.Equal(t, "no run kitchen", no.Text)
	d.Path += "x"
	_, err = d.GiveUp(t.Context(), "cut")
	require.ErrorIs(t, err, ErrNobody)
}

// TestSocketIsMadeAgain: by itself, within 5 s.
func TestSocketIsMadeAgain(t *testing.T) {
	t.Parallel()
	_, d := served(t, &fakeHouse{})
	require.NoError(t, os.Remove(d.Path))
	require.Eventually(t, func() bool {
		_, err := d.Look(t.Context())
		return err == nil
	}, 5*time.Second, 50*time.Millisecond)
}

// TestStaleSocket: what a killed keeper left is no hindrance; a file or a folder is.
func TestStaleSocket(t *testing.T) {
	path := filepath.Join(t.TempDir(), "k.sock")
	l, err := net.ListenUnix("unix", &net.UnixAddr{Name: path, Net: "unix"})
	require.NoError(t, err)
	l.SetUnlinkOnClose(false)
	require.NoError(t, l.Close())
	_, err = Door{Path: path, Now: time.Now}.Look(t.Context())
	require.ErrorIs(t, err, ErrNobody)
	k, err := Listen(path)
	require.NoError(t, err)
	require.NoError(t, k.Close())
	require.NoFileExists(t, path)

	require.NoError(t, os.WriteFile(path, []byte("mine"), 0o600))
	_, err = Listen(path)
	require.ErrorIs(t, err, ErrInTheWay)
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, "mine", string(text))
	require.NoError(t, os.Remove(path))
	require.NoError(t, os.Mkdir(path, 0o700))
	_, err = Listen(path)
	require.ErrorIs(t, err, ErrInTheWay)
}

func TestLongPath(t *testing.T) {
	path := "/" + strings.Repeat("x", LongestPath)
	_, err := Listen(path)
	require.ErrorIs(t, err, ErrLong)
	_, err = Door{Path: path, Now: time.Now}.Look(t.Context())
	require.ErrorIs(t, err, ErrLong)
	require.NotContains(t, err.Error(), "\n")
}
