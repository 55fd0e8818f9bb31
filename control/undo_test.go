package control

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/profiles"
)

// TestUndoEndsWithItsStep lengthens a soak and lets it end: what was changed in it is not taken
// back in the wait behind it, which would go back into the soak and heat an oven whose blade a
// person is taking out.
func TestUndoEndsWithItsStep(t *testing.T) {
	b := atSoak(t, time.Minute)
	require.Empty(t, b.ask(Ask{Kind: AskMore, Seconds: 60}))
	b.until(10*time.Minute, "the wait", func(s Snapshot) bool { return s.Step == 3 })
	require.Empty(t, b.e.Snapshot().Undo, "no screen offers it")
	require.Equal(t, "there is nothing to take back", b.ask(Ask{Kind: AskUndo}))
	b.run(time.Minute)
	s := b.e.Snapshot()
	require.Equal(t, 3, s.Step)
	require.False(t, s.HasSet)
	require.Zero(t, b.out.Duty)
}

// TestUndoOfASkipGivesAWaitNoNewTime leaves a wait with heat and comes back to it: its heat
// stays on no longer than it may in all.
func TestUndoOfASkipGivesAWaitNoNewTime(t *testing.T) {
	b := newBench(t, temper(t, time.Hour))
	b.until(time.Hour, "the wait", func(s Snapshot) bool { return s.Steps[s.Step].Kind == profiles.Wait })
	most := b.e.Snapshot().Steps[1].Most
	require.Positive(t, most)
	b.run(most - time.Minute)
	require.True(t, b.e.Snapshot().HasSet, "the heat is on")
	require.Empty(t, b.ask(Ask{Kind: AskSkip}))
	require.Empty(t, b.ask(Ask{Kind: AskUndo}))
	require.Equal(t, 1, b.e.Snapshot().Step)
	b.run(2 * time.Minute)
	require.False(t, b.e.Snapshot().HasSet)
	require.Zero(t, b.out.Duty)
}
