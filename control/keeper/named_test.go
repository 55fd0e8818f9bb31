package keeper

import (
	"context"
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control/attach"
	"strawline/probe/port"
)

// Whoever made a run is told the name that it got, which another run may have made another.
func TestWhoMadeARunIsToldItsName(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	clock := func() time.Duration { return 0 }
	var h *House
	var names []string
	h = NewHouse(ctx, HouseConfig{Say: func(string) {}, Make: func(j attach.Job, _ bool) (Made, error) {
		return Made{Config: Config{Run: "temper", Clock: Clock{Now: clock, Wall: time.Now},
			Open: func() (port.Stream, error) { return nil, errors.New("no such port") },
			Port: port.Config{Name: "/dev/none" + j.Folder}}, Named: func(run string) {
			names = append(names, run)
			if j.Folder == "" { // while the first is being begun
				h.Start(ctx, attach.Job{Folder: "2"})
			}
			cancel()
		}}, nil
	}})
	_, err := h.Start(ctx, attach.Job{})
	require.Error(t, err)
	require.Equal(t, []string{"temper", "temper-2"}, names)
}
