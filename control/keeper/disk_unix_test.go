//go:build unix

package keeper

import (
	"os"
	"os/signal"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
)

// roomFor lets this process make no file longer than size, which a writer meets as it meets a
// full disk: an error of Write. It gives what makes room again.
func roomFor(t *testing.T, size uint64) (again func()) {
	var was syscall.Rlimit
	if err := syscall.Getrlimit(syscall.RLIMIT_FSIZE, &was); err != nil {
		t.Error(err)
	}
	set := func(l syscall.Rlimit) {
		if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &l); err != nil {
			t.Error(err)
		}
	}
	little := was
	little.Cur = size
	set(little)
	return func() { set(was) }
}

func TestAFullDiskIsAnAlarmAndTheLoopGoesOn(t *testing.T) {
	signal.Ignore(syscall.SIGXFSZ) // outside the bubble, since it starts a goroutine for good
	defer signal.Reset(syscall.SIGXFSZ)
	synctest.Test(t, func(t *testing.T) {
		l := newLive(t, 1)
		defer l.off()
		l.prepare()
		var alarms []control.Event
		l.rekeep(func(r control.Record) {
			if e := r.Event; e != nil && e.Kind == control.EvAlarm && e.Code == "log-full" {
				alarms = append(alarms, *e)
			}
		})
		time.AfterFunc(time.Minute, func() {
			st, err := os.Stat(l.cfg.Out)
			require.NoError(t, err)
			again := roomFor(t, uint64(st.Size()))
			time.AfterFunc(10*time.Minute, again)
		})
		_, err := l.run(20 * time.Minute)
		require.NoError(t, err)
		require.NotEmpty(t, alarms)
		require.InDelta(t, 60, alarms[0].T.Seconds(), 5)
		require.Equal(t, "B", alarms[0].Word)
		rs := records(t, l.cfg.Out)
		ts := samples(rs)
		require.Len(t, ts, int(20*time.Minute/Tick), "what was kept is written when there is room")
		for i, at := range ts[:len(ts)-1] {
			require.Equal(t, time.Duration(i)*Tick, at)
		}
		require.Empty(t, events(rs, control.EvLost))
		require.Len(t, events(rs, control.EvDoubt), 0)
		require.Positive(t, l.heatAfter(5*time.Minute)-l.heatAfter(10*time.Minute), "it went on heating")
	})
}
