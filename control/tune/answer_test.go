package tune

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The answer that is drawn is the one that the prediction's figures are taken from.
func TestAnswerIsThePredictedDoor(t *testing.T) {
	m := Model{Kind: Second, K: 526, T: 493, T2: 24, L: 8}
	n := Noise{Sigma: 0.3, Every: 0.25}
	best, _, _, err := Recommend(m, n, 2)
	require.NoError(t, err)
	s, sc := NewSetup(m, n, 2), DefaultScene(m)
	p, err := Predict(m, best.Gains, s, sc)
	require.NoError(t, err)
	got, err := Answer(m, best.Gains, s, sc, 1200)
	require.NoError(t, err)
	over, last := 0.0, 0.0
	for _, q := range got {
		over = max(over, q.Off)
		if q.Off > 1 || q.Off < -1 {
			last = q.T
		}
	}
	assert.InDelta(t, p.Door.Over, over, 0.02)
	assert.InDelta(t, p.Door.Settle, last, 1)
	assert.Negative(t, got[80].Off, "20 s into the door")
	_, err = Answer(Model{}, best.Gains, s, sc, 100)
	assert.Error(t, err)
}
