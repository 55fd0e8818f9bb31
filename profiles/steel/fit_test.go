package steel

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe/temp"
)

// heated records a blade that is put into an oven of 200 °C, a quarter of a second apart, with
// noise on both readings, as the model itself has it with a known convection.
func heated(p Plate, convection float64, span time.Duration, noise float64, seed uint64) Fit {
	var f Fit
	rnd := rand.New(rand.NewPCG(seed, 1))
	blade := temp.C(22)
	const tick = 250 * time.Millisecond
	for at := time.Duration(0); at <= span; at += tick {
		f.Add(p, temp.C(200+noise*rnd.NormFloat64()), blade.Add(temp.Delta(noise*rnd.NormFloat64())), at)
		blade = p.After(blade, Oven(200, convection), tick)
	}
	return f
}

// TestTheConvectionIsFoundAgain: what the record was made with is inside the interval, or next
// to it in the one time of twenty that 95 % leave.
func TestTheConvectionIsFoundAgain(t *testing.T) {
	missed := 0
	for seed := range uint64(20) {
		want := 6 + float64(seed)
		f := heated(Blade(4, Oxidised), want, 25*time.Minute, 0.3, seed)
		w, within, err := f.Convection()
		require.NoError(t, err, "%g", want)
		require.InDelta(t, want, w, 2*within)
		require.Less(t, within, 0.2*w)
		if w-want > within || want-w > within {
			missed++
		}
	}
	require.LessOrEqual(t, missed, 3)
}

func TestWhatARecordCannotCarryIsNotFound(t *testing.T) {
	short := heated(Blade(4, Oxidised), 8, 9*time.Minute, 0.3, 1)
	_, _, err := short.Convection()
	require.ErrorContains(t, err, "for 9 min; 10 are needed")
	noisy := heated(Blade(4, Oxidised), 8, 15*time.Minute, 30, 1)
	_, _, err = noisy.Convection()
	require.Error(t, err)
	thin := heated(Blade(4, Oxidised), 0.1, 25*time.Minute, 0.01, 1)
	_, _, err = thin.Convection()
	require.ErrorContains(t, err, "is the probe at the blade")
	var none Fit
	_, _, err = none.Convection()
	require.Error(t, err)
}
