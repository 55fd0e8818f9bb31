package runlog

import (
	"context"
	"fmt"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/control"
)

func TestLoggerWritesAll(t *testing.T) {
	d := &fakeDisk{room: plenty}
	l := Start(startFake(t, d), nil)
	for i := range 2000 {
		require.True(t, l.Put(sampleRecord(i)))
		require.NoError(t, l.Flush(t.Context()))
		require.Equal(t, uint64(i+2), l.State().Lines) // Flush waited for this very record
	}
	require.NoError(t, l.Close(t.Context()))
	require.NoError(t, l.Close(t.Context()))
	assert.True(t, d.closed)
	all := d.read(t)
	require.Len(t, all, 2000)
	assert.Equal(t, RoundRecord(sampleRecord(1999)), all[1999])
	assert.False(t, l.Put(sampleRecord(1)), "put after close")
	require.ErrorIs(t, l.Flush(t.Context()), ErrStopped)
}

// TestQueueFull: a disk that hangs never makes Put wait; what had no room is recorded as lost
// between the records before and after it.
func TestQueueFull(t *testing.T) {
	for _, end := range []string{"put", "flush", "close"} {
		t.Run(end, func(t *testing.T) {
			d := &fakeDisk{room: plenty}
			w := startFake(t, d)
			d.blocking, d.entered = make(chan struct{}), make(chan struct{}, 1)
			l := Start(w, nil)
			const puts = 3000
			require.True(t, l.Put(sampleRecord(0)))
			<-d.entered // it hangs in the first write
			taken := 1
			for i := 1; i < puts; i++ {
				if l.Put(sampleRecord(i)) {
					taken++
				}
			}
			require.Equal(t, queueLen+1, taken)
			require.GreaterOrEqual(t, queueLen/4, 60, "a minute at 4 Hz must fit")
			ctx, cancel := context.WithCancel(t.Context())
			cancel()
			require.ErrorIs(t, l.Flush(ctx), context.Canceled)
			assert.Equal(t, puts-taken, l.State().Lost)
			close(d.blocking)
			switch end {
			case "put":
				for !l.Put(sampleRecord(puts)) { // counts on while there is no room
				}
			case "flush":
				require.NoError(t, l.Flush(t.Context()))
			}
			require.NoError(t, l.Close(t.Context()))
			all := d.read(t)
			lost := all[taken].Event
			require.NotNil(t, lost)
			assert.Equal(t, control.EvLost, lost.Kind)
			assert.Equal(t, "queue", lost.Code)
			assert.Contains(t, lost.Text, "the queue to the disk was full")
			assert.Equal(t, fmt.Sprint(l.State().Lost), lost.Word)
			assert.Equal(t, l.State(), w.State())
			assert.Equal(t, testSample(taken-1).T, all[taken-1].Sample.T)
			if end == "put" {
				assert.Equal(t, testSample(puts).T, all[taken+1].Sample.T)
				return
			}
			assert.Len(t, all, taken+1)
			assert.Equal(t, puts-taken, l.State().Lost)
			assert.Equal(t, testSample(puts-1).T, lost.T)
			assert.Equal(t, float64(puts-1-taken)*0.25, *lost.SpanS)
		})
	}
}

// TestLoggerDiskFull: the run goes on, Flush does not hang, and the state tells the keeper.
func TestLoggerDiskFull(t *testing.T) {
	d := &fakeDisk{room: plenty}
	w := startFake(t, d)
	d.room = len(d.data) + 1000
	l := Start(w, nil)
	var err error
	for i := range 100 {
		require.True(t, l.Put(sampleRecord(i)))
		err = l.Flush(t.Context())
	}
	require.ErrorIs(t, err, syscall.ENOSPC)
	require.ErrorIs(t, l.State().Err, syscall.ENOSPC)
	require.Positive(t, l.State().Kept)
	err = l.Close(t.Context())
	require.ErrorIs(t, err, ErrFailing)
	require.ErrorIs(t, err, syscall.ENOSPC)
}

// TestLoggerPanic: the keeper's guard gets the panic, and nobody hangs.
func TestLoggerPanic(t *testing.T) {
	d := &fakeDisk{room: plenty}
	w := startFake(t, d)
	d.panics = true
	caught := make(chan any, 1)
	l := Start(w, func(work func()) {
		defer func() { caught <- recover() }()
		work()
	})
	require.True(t, l.Put(sampleRecord(1)))
	assert.Equal(t, "the disk is on fire", <-caught)
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
	defer cancel()
	require.ErrorIs(t, l.Flush(ctx), ErrStopped)
	require.False(t, l.Put(sampleRecord(2)))
	require.ErrorIs(t, l.State().Err, ErrStopped)
	require.ErrorIs(t, l.Close(ctx), ErrStopped)
	assert.True(t, d.closed)
}

// TestLoggerClosesWithContext: a disk that hangs does not hang the keeper's end.
func TestLoggerClosesWithContext(t *testing.T) {
	d := &fakeDisk{room: plenty}
	w := startFake(t, d)
	d.blocking = make(chan struct{})
	l := Start(w, nil)
	require.True(t, l.Put(sampleRecord(1)))
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Millisecond)
	defer cancel()
	require.ErrorIs(t, l.Close(ctx), context.DeadlineExceeded)
	close(d.blocking)
	require.NoError(t, l.Close(t.Context()))
}
