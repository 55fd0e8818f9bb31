package control

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestProofWords(t *testing.T) {
	today := time.Date(2026, 11, 25, 23, 30, 0, 0, time.FixedZone("east", 9*3600))
	on := func(day string) ProofInfo { return ProofInfo{Date: day, Board: "straw-uno", LimitC: 260.1} }
	const again = ": strawline probes proof"
	for _, c := range []struct {
		limit, dead ProofInfo
		words       string
		due         bool
	}{
		{ProofInfo{}, ProofInfo{}, "limit and dead man never proved" + again, true},
		{on("2026-11-13"), on("2026-11-13"), "limit and dead man last proved 12 days ago", false},
		{on("2026-11-25"), on("2026-11-25"), "limit and dead man last proved today", false},
		{on("2026-11-24"), on("2026-11-23"), "limit last proved 1 day ago, dead man 2 days ago", false},
		{on("2026-11-20"), ProofInfo{}, "limit last proved 5 days ago, dead man never" + again, true},
		{ProofInfo{}, on("2026-11-20"), "dead man last proved 5 days ago, limit never" + again, true},
		{on("2026-08-27"), on("2026-08-27"), "limit and dead man last proved 90 days ago", false},
		{on("2026-08-26"), on("2026-11-24"), "limit last proved 91 days ago, dead man 1 day ago" + again,
			true},
		{on("2026-11-26"), on("2026-11-26"),
			"limit and dead man last proved on 2026-11-26, which is after today", false},
		{on("2026-11-27"), on("2026-11-20"), "limit last proved on 2026-11-27, which is after today, " +
			"dead man 5 days ago" + again, true}, // a clock was wrong; else it would not be due for long
		{ProofInfo{Failed: "2026-11-22"}, on("2026-11-20"),
			"the board's limit FAILED its proof 3 days ago: do not use it; strawline probes proof", true},
		{on("2026-11-20"), ProofInfo{Failed: "2026-11-25"},
			"the board's dead man FAILED its proof today: do not use it; strawline probes proof", true},
		{ProofInfo{Date: "2026-11-20", Board: "straw-one", LimitC: 260.1}, on("2026-11-20"),
			"limit and dead man last proved 5 days ago, of another board, straw-one" + again, true},
		{on("2026-11-20"), ProofInfo{Date: "2026-11-20", Board: "straw-uno", LimitC: 300},
			"limit and dead man last proved 5 days ago, with another limit, 572 °F" + again, true},
	} {
		in := Info{Unit: "F", Shop: Shop{Board: "straw-uno", BoardLimC: 260.1,
			Proofs: &Proofs{Limit: c.limit, DeadMan: c.dead}}}
		words, due := in.ProofWords(today)
		assert.Equal(t, c.words, words)
		assert.Equal(t, c.due, due, words)
		text, err := json.Marshal(in.Shop)
		require.NoError(t, err)
		var back Shop
		require.NoError(t, json.Unmarshal(text, &back))
		assert.Equal(t, in.Shop, back)
	}
	low := &Info{Shop: Shop{Proofs: &Proofs{Lowered: "lowered", LoweredC: 95}}}
	for limit, want := range map[float64]string{0: "lowered", 94.8: "lowered",
		260: "limit and dead man never proved" + again} {
		low.Shop.BoardLimC = limit
		words, due := low.ProofWords(today)
		assert.Equal(t, want, words)
		assert.True(t, due)
	}
	// Before the board has said its name there is nothing to compare with.
	words, _ := (&Info{Shop: Shop{Proofs: &Proofs{Limit: on("2026-11-20"),
		DeadMan: on("2026-11-20")}}}).ProofWords(today)
	assert.Equal(t, "limit and dead man last proved 5 days ago", words)
	for name, in := range map[string]*Info{
		"none":      nil,
		"old file":  {},
		"simulated": {Simulated: true, Shop: Shop{Proofs: &Proofs{}}},
		"no heater": {Shop: Shop{NoHeater: true, Proofs: &Proofs{}}},
	} {
		words, due := in.ProofWords(today)
		assert.Empty(t, words, name)
		assert.False(t, due, name)
	}
}
