package runlog

import (
	"bytes"
	"fmt"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/control"
)

// fakeDisk is a file in memory with room for so many bytes.
type fakeDisk struct {
	data     []byte
	room     int  // bytes that fit
	partial  bool // a write that does not fit leaves its first part behind
	noCut    bool // truncating fails
	closed   bool
	writes   int
	fails    int
	syncs    []int // length at each sync
	syncErr  error
	panics   bool
	blocking chan struct{} // a write waits until it is closed
	entered  chan struct{} // gets a value when one waits, if it has room
}

func (d *fakeDisk) Write(p []byte) (int, error) {
	if d.panics {
		panic("the disk is on fire")
	}
	if d.blocking != nil {
		select {
		case d.entered <- struct{}{}:
		default:
		}
		<-d.blocking
	}
	d.writes++
	if len(d.data)+len(p) <= d.room {
		d.data = append(d.data, p...)
		return len(p), nil
	}
	d.fails++
	n := 0
	if d.partial {
		n = max(0, d.room-len(d.data))
		d.data = append(d.data, p[:n]...)
	}
	return n, syscall.ENOSPC
}

func (d *fakeDisk) Sync() error {
	d.syncs = append(d.syncs, len(d.data))
	return d.syncErr
}

func (d *fakeDisk) Truncate(size int64) error {
	if d.noCut {
		return syscall.EIO
	}
	d.data = d.data[:size]
	return nil
}

func (d *fakeDisk) Close() error { d.closed = true; return nil }

func startFake(t testing.TB, d *fakeDisk) *Writer {
	t.Helper()
	w, err := start("fake.ndjson", d, testInfo())
	require.NoError(t, err)
	return w
}

// read checks what is on the disk.
func (d *fakeDisk) read(t testing.TB) []control.Record {
	t.Helper()
	f, err := scan(bytes.NewReader(d.data), int64(len(d.data)), false)
	require.NoError(t, err)
	require.Zero(t, f.Tail)
	all, err := f.All()
	require.NoError(t, err)
	return all
}

const plenty = 1 << 40

func TestOneWriteARecordAndSyncSchedule(t *testing.T) {
	d := &fakeDisk{room: plenty}
	w := startFake(t, d)
	lens := []int{} // where a sync must be
	for i := range 100 {
		require.NoError(t, w.Append(sampleRecord(i)))
		require.Equal(t, i+2, d.writes)
		require.Equal(t, int64(len(d.data)), w.State().Bytes)
		if i > 0 && i%20 == 0 { // every 5 s
			lens = append(lens, len(d.data))
		}
	}
	assert.Equal(t, lens, d.syncs)
	d.syncs = nil
	at := 25 * time.Second
	for _, k := range []control.EventKind{control.EvAlarm, control.EvTrip, control.EvEnd} {
		require.NoError(t, w.Append(eventRecord(at, k, "")))
		require.Equal(t, len(d.data), d.syncs[len(d.syncs)-1])
	}
	require.Len(t, d.syncs, 3)
	require.NoError(t, w.Append(eventRecord(at, control.EvNote, "")))
	require.NoError(t, w.Append(eventRecord(at+4999*time.Millisecond, control.EvNote, "")))
	require.Len(t, d.syncs, 3)
	require.NoError(t, w.Close())
	assert.Len(t, d.syncs, 4)
	assert.True(t, d.closed)
}

func TestSyncErrorShows(t *testing.T) {
	d := &fakeDisk{room: plenty, syncErr: syscall.EIO}
	w := startFake(t, d)
	require.NoError(t, w.Append(eventRecord(0, control.EvTrip, "")))
	require.ErrorIs(t, w.State().Err, syscall.EIO)
	d.syncErr = nil
	require.NoError(t, w.Append(eventRecord(0, control.EvTrip, "")))
	require.NoError(t, w.State().Err)
	require.NoError(t, w.Close())
}

// TestDiskFull fills the disk at every length of a run, with and without a part of the line
// left behind, gives room back later and finds every record in the file.
func TestDiskFull(t *testing.T) {
	const samples = 120
	whole := &fakeDisk{room: plenty}
	w := startFake(t, whole)
	head := len(whole.data)
	for i := range samples {
		require.NoError(t, w.Append(sampleRecord(i)))
	}
	for room := head; room < head+1500; room += 7 {
		for _, partial := range []bool{false, true} {
			d := &fakeDisk{room: room, partial: partial}
			w := startFake(t, d)
			failed := -1
			for i := range samples {
				if i == 60 {
					d.room = plenty
				}
				err := w.Append(sampleRecord(i))
				if err != nil && failed < 0 {
					failed = i
					require.ErrorIs(t, err, ErrFailing)
					require.ErrorIs(t, w.State().Err, syscall.ENOSPC)
					require.Equal(t, testSample(i).T, w.State().Since)
				}
				require.Equal(t, w.State().Bytes, int64(len(d.data)), "a torn line stays")
			}
			require.GreaterOrEqual(t, failed, 0)
			require.LessOrEqual(t, d.fails, 2, "tried more often than every 10 s of run time")
			require.NoError(t, w.State().Err)
			require.Zero(t, w.State().Lost)
			require.NoError(t, w.Close())
			require.Equal(t, string(whole.data), string(d.data))
		}
	}
}

// TestCutFails: a torn line that cannot be cut off at once is cut before the next try.
func TestCutFails(t *testing.T) {
	d := &fakeDisk{room: plenty, partial: true}
	w := startFake(t, d)
	require.NoError(t, w.Append(sampleRecord(0)))
	d.room, d.noCut = len(d.data)+30, true
	require.ErrorIs(t, w.Append(sampleRecord(1)), ErrFailing)
	require.Greater(t, int64(len(d.data)), w.State().Bytes)
	d.room = plenty
	require.ErrorIs(t, w.Append(sampleRecord(50)), syscall.EIO)
	d.noCut = false
	require.NoError(t, w.Append(sampleRecord(100)))
	require.NoError(t, w.Close())
	require.Len(t, d.read(t), 4)
}

// TestLongOutage: a disk that is full for 24 h costs bounded memory; then the newest 2 h come,
// behind a record of what is missing.
func TestLongOutage(t *testing.T) {
	d := &fakeDisk{room: plenty}
	w := startFake(t, d)
	require.NoError(t, w.Append(sampleRecord(0)))
	d.room = 0
	var before runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	const day = 24 * 3600 * 4
	most := 0
	for i := 1; i <= day; i++ {
		w.Append(sampleRecord(i))
		most = max(most, cap(w.out.kept))
		require.LessOrEqual(t, len(w.out.kept), 2*3600*4+1)
		require.LessOrEqual(t, w.out.bytes, keepBytes)
	}
	assert.Less(t, most, 100_000, "the list of what waits grows")
	t.Logf("after 24 h without room: %d records, %.1f MiB", len(w.out.kept),
		float64(w.out.bytes)/(1<<20))
	assert.Equal(t, day/40, d.fails, "one try every 10 s")
	var after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&after)
	heap := (float64(after.HeapAlloc) - float64(before.HeapAlloc)) / (1 << 20)
	t.Logf("heap grown by %.1f MiB", heap)
	assert.Less(t, heap, 32.0, "MiB")
	d.room = plenty
	require.NoError(t, w.Append(sampleRecord(day+40)))
	require.NoError(t, w.Close())
	all := d.read(t)
	require.Equal(t, control.EvLost, all[1].Event.Kind)
	// Lost are samples 1 to day+40-28801.
	lost := day + 40 - 2*3600*4 - 1
	kept := day - lost + 1
	lost2 := all[1].Event
	assert.Equal(t, "disk", lost2.Code)
	assert.Equal(t, fmt.Sprint(lost), lost2.Word)
	assert.Equal(t, float64(lost-1)*0.25, *lost2.SpanS)
	assert.Equal(t, testSample(lost).T, lost2.T)
	assert.Contains(t, lost2.Text, "no space left on device")
	assert.Equal(t, lost, w.State().Lost)
	require.Len(t, all, 2+kept)
	assert.Equal(t, testSample(lost+1).T, all[2].Sample.T)
}

// TestOutageBytes: long notes cannot fill the memory either.
func TestOutageBytes(t *testing.T) {
	d := &fakeDisk{room: plenty}
	w := startFake(t, d)
	d.room = 0
	note := strings.Repeat("n", 500_000)
	for range 100 {
		w.Append(eventRecord(time.Second, control.EvNote, note))
		require.LessOrEqual(t, w.out.bytes, keepBytes)
	}
	assert.Equal(t, 100, w.State().Kept+w.State().Lost)
	err := w.Close()
	require.ErrorIs(t, err, syscall.ENOSPC)
	assert.ErrorContains(t, err, "100 records could not be written: no space left on device")
	assert.NotContains(t, err.Error(), "\n")
}

// TestRoomOnlyForSome: what fits of the records that wait is written, the rest waits on.
func TestRoomOnlyForSome(t *testing.T) {
	d := &fakeDisk{room: plenty, partial: true}
	w := startFake(t, d)
	d.room = len(d.data) + 10
	for i := range 200 {
		w.Append(sampleRecord(i))
		d.room += 90 // slower than the samples grow
		require.Equal(t, i+1, int(w.State().Lines)-1+w.State().Kept)
	}
	require.Error(t, w.State().Err)
	require.Greater(t, w.State().Lines, uint64(50))
	d.room = plenty
	require.NoError(t, w.Close())
	all := d.read(t)
	require.Len(t, all, 200)
	for i, r := range all {
		require.Equal(t, testSample(i).T, r.Sample.T)
	}
}

func TestRefusedIsRecorded(t *testing.T) {
	d := &fakeDisk{room: plenty}
	w := startFake(t, d)
	bad := sampleRecord(1)
	bad.Sample.Duty = -1
	require.ErrorIs(t, w.Append(bad), ErrRefused)
	require.NoError(t, w.Close())
	all := d.read(t)
	require.Len(t, all, 1)
	assert.Equal(t, "refused", all[0].Event.Code)
	assert.Equal(t, "1", all[0].Event.Word)
	assert.Contains(t, all[0].Event.Text, "duty_pm is -1")
	assert.Equal(t, 1, w.State().Lost)
}
