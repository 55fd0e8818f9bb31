package shop

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/probe/temp"
)

// TestPutProof: after any tries, what stands as the last pass is the last one that passed, unless
// one has failed since; and the file says the same when it is read back.
func TestPutProof(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var f Found
		part := rapid.SampledFrom(Parts()).Draw(t, "part")
		var want Proof
		failed := false
		for day := range rapid.IntRange(1, 8).Draw(t, "tries") {
			e := Entry[Proof]{Of: "temper", Date: Date{2026, time.November, 1 + day}, Value: Proof{
				Result: rapid.SampledFrom([]Proven{Passed, Failed, NotDone}).Draw(t, "result"),
				Board:  rapid.SampledFrom([]string{"one", "two"}).Draw(t, "board"),
				Limit:  temp.C(rapid.Float64Range(100, 1000).Draw(t, "limit"))}}
			switch e.Value.Result {
			case Passed:
				want = Proof{Last: e.Date, LastBoard: e.Value.Board, LastLimit: e.Value.Limit}
				failed = false
			case Failed:
				want, failed = Proof{}, true
			}
			list := f.Proofs(part)
			*list = PutProof(*list, e)
		}
		require.Len(t, *f.Proofs(part), 1)
		text, err := f.Bytes()
		require.NoError(t, err)
		back, err := ParseFound("found.toml", text)
		require.NoError(t, err)
		assert.Equal(t, f, back)
		got := (*back.Proofs(part))[0].Value
		assert.Equal(t, want, Proof{Last: got.Last, LastBoard: got.LastBoard, LastLimit: got.LastLimit})
		assert.Equal(t, failed, got.Result == Failed, "only a pass takes a failure away")
		assert.Equal(t, got.Result == Passed, got.Last == (*back.Proofs(part))[0].Date)
		for _, other := range Parts() {
			assert.True(t, other == part || len(*f.Proofs(other)) == 0)
		}
	})
}

func TestPartWords(t *testing.T) {
	var words []string
	for _, p := range append(Parts(), "other") {
		words = append(words, p.String())
	}
	assert.Equal(t, []string{"limit", "dead man", "cable", "cut-out", "other"}, words)
}
