package keeper

import (
	"testing"

	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/probe"
)

func TestSplitGivesEachReadingOfAChannelAStep(t *testing.T) {
	r := func(c int, seq uint16) probe.Reading { return probe.Reading{Channel: c, Seq: seq} }
	in := probe.Batch{Boots: []probe.Board{{Name: "b"}}, Link: probe.Link{State: probe.LinkUp},
		Readings: []probe.Reading{r(1, 1), r(2, 2), r(1, 3), r(2, 4), r(2, 5)}}
	out := split(in)
	require.Len(t, out, 3)
	var seqs []uint16
	for i, b := range out {
		require.Equal(t, probe.LinkUp, b.Link.State)
		require.Len(t, b.Boots, map[int]int{0: 1}[i], "a start is told once")
		for _, x := range b.Readings {
			seqs = append(seqs, x.Seq)
		}
	}
	require.Equal(t, []uint16{1, 2, 3, 4, 5}, seqs, "in order, none lost")
	require.Len(t, split(probe.Batch{}), 1)
}

func TestHeatOffIsTakenWhateverPilesUp(t *testing.T) {
	var x exchange
	for range 1000 {
		x.ask(control.Ask{Kind: control.AskNote})
	}
	x.ask(control.Ask{Kind: control.AskHeatOff})
	as := x.takeAsks()
	require.Len(t, as, asksAtMost+1)
	require.Equal(t, control.AskHeatOff, as[asksAtMost].Kind)
}
