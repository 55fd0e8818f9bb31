//go:build linux || darwin

package port

import (
	"io"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/probe/modbus"
)

// TestModulesThroughTheSerialLibrary reads a simulated slave on a pseudo-terminal, opened as a
// real port is.
func TestModulesThroughTheSerialLibrary(t *testing.T) {
	ours, host, err := pty.Open()
	require.NoError(t, err)
	slave := &modbus.Slave{Unit: 17, Input: make([]uint16, 16), Holding: make([]uint16, 16)}
	slave.Input[8], slave.Holding[2] = 2044, 3920
	done := make(chan struct{})
	go func() {
		defer close(done)
		buf := make([]byte, 64)
		for {
			n, err := ours.Read(buf)
			if err != nil {
				return
			}
			if _, err := ours.Write(slave.Feed(buf[:n])); err != nil && err != io.ErrShortWrite {
				return
			}
		}
	}()
	cfg := moduleConfig()
	cfg.Modules.Wait = 2 * time.Second // a busy machine is no slow module
	p := New(cfg, OpenLine(host.Name(), Line{Baud: 9600, Parity: "even"}))
	start := time.Now()
	got := map[int]probe.Reading{}
	for len(got) < 2 && time.Since(start) < 20*time.Second {
		b := p.Poll(time.Since(start))
		for _, r := range b.Readings {
			got[r.Channel] = r
		}
	}
	require.NoError(t, p.Close(time.Since(start)))
	host.Close()
	ours.Close()
	<-done
	require.InDelta(t, 204.4, float64(got[1].Hot), 1e-9)
	require.InDelta(t, 200, float64(got[2].Hot), 1e-9)
}
