package tui

import (
	"testing"

	"github.com/stretchr/testify/require"

	"strawline/control"
)

// other is a lease that another screen has until it is taken.
type other struct {
	mine  bool
	taken int
}

func (o *other) Lease() (string, bool) { return "pts/1", o.mine }
func (o *other) Take()                 { o.taken++; o.mine = true }

// TestLeaseIsTakenOverByAsking: what may raise the heat asks once more while another screen has
// the run; off goes through at once.
func TestLeaseIsTakenOverByAsking(t *testing.T) {
	held := &other{}
	b := newBench(t, Options{Lease: held}, at(scene(), minutes(5), 300))
	b.sees("the screen on pts/1 has this run")
	b.press("h")
	require.Equal(t, control.AskHeatOff, b.asked[0].Kind)
	b.press("k", "y")
	b.sees("take it over, and")
	b.press("n")
	require.Len(t, b.asked, 1)
	require.Zero(t, held.taken)
	b.press("k", "y", "y")
	require.Equal(t, control.AskSkip, b.asked[1].Kind)
	require.Equal(t, 1, held.taken)
	b.press("k", "y")
	require.Len(t, b.asked, 3, "it is ours now")
}
