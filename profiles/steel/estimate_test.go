package steel

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/probe/temp"
)

// TestWantIsTheInverse: tempering as Want says gives the hardness wanted.
func TestWantIsTheInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.SampledFrom(List()[:13]).Draw(t, "steel")
		hrc := rapid.Float64Range(40, 67).Draw(t, "hrc")
		span := time.Duration(rapid.Int64Range(int64(30*time.Minute), int64(8*time.Hour)).
			Draw(t, "span"))
		times := rapid.IntRange(1, 3).Draw(t, "times")
		at, err := s.Want(hrc, span, times, 0)
		if err != nil {
			return
		}
		e, err := s.Tempered(at, span, times, 0)
		require.NoError(t, err)
		assert.InDelta(t, hrc, e.HRC, 1e-6)
	})
	s, _ := Find("1084", nil)
	at, err := s.Want(61.5, 2*time.Hour, 1, 0)
	require.NoError(t, err)
	assert.InDelta(t, 400, at.F(), 2, "the research's table")
	_, err = s.Want(67, 2*time.Hour, 1, 0)
	assert.ErrorContains(t, err, "from 66 down to")
	_, err = s.Want(60, 30*time.Hour, 1, 0)
	assert.Error(t, err)
	a2, _ := Find("A2", nil)
	_, err = a2.Want(60, 2*time.Hour, 1, 0)
	assert.Error(t, err)
}

// TestBandsGrowUnmeasured: one HRC wider without a hardness after the quench, except where the
// band comes straight from measured points.
func TestBandsGrowUnmeasured(t *testing.T) {
	for name, want := range map[string][3]float64{ // measured, unmeasured at 400 °F; at 550 °F
		"1084": {1.5, 2.5, 3.5}, "1095": {1.5, 2.5, 3.5}, "15N20": {2, 3, 3.5},
		"80CrV2": {2, 3, 3.5}, "O1": {1.5, 2.5, 3.5}, "5160": {4.5, 4.5, 4.5},
		"52100": {3.5, 3.5, 3.5}, "4140": {4, 4, 4},
	} {
		s, _ := Find(name, nil)
		for i, x := range []struct{ f, quenched float64 }{{400, s.AsQuenched.High}, {400, 0}, {550, 0}} {
			e, err := s.Tempered(temp.F(x.f), 2*time.Hour, 1, x.quenched)
			require.NoError(t, err, name)
			assert.Equal(t, want[i], e.Band, "%s %v", name, x)
		}
	}
}

func TestHalfHardened(t *testing.T) {
	s, _ := Find("1084", nil)
	_, err := s.Tempered(200, 2*time.Hour, 1, 55)
	assert.ErrorContains(t, err, "not fully hardened")
	_, err = s.Want(60, 2*time.Hour, 1, 55)
	assert.ErrorContains(t, err, "not fully hardened")
	_, err = s.Tempered(200, 2*time.Hour, 1, 64)
	assert.NoError(t, err)
}

func TestOutsideIsSaid(t *testing.T) {
	s, _ := Find("1084", nil)
	for _, x := range []struct {
		at    temp.C
		span  time.Duration
		times int
		says  string
	}{
		{139, time.Hour, 1, "below"}, {401, time.Hour, 1, "above"},
		{200, time.Minute, 1, "not shorter or longer"}, {200, 13 * time.Hour, 2, "not shorter or"},
		{200, time.Hour, 0, "outside 1 to 10"}, {200, time.Hour, 11, "outside 1 to 10"},
		{145, 2 * time.Minute, 1, "measurements reach from"},
		{temp.C(math.NaN()), time.Hour, 1, "no temper"},
	} {
		_, err := s.Tempered(x.at, x.span, x.times, 0)
		assert.ErrorContains(t, err, x.says, "%v", x)
	}
	o1, _ := Find("O1", nil)
	_, err := o1.Tempered(temp.F(299), 2*time.Hour, 1, 0)
	assert.Error(t, err)
	e, err := o1.Tempered(temp.F(300), 2*time.Hour, 1, 0)
	require.NoError(t, err)
	assert.InDelta(t, 63.7, e.HRC, 1e-9)
}

// TestRounded: no more digits than the band deserves, and the band is never cut by rounding.
func TestRounded(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := Estimate{HRC: rapid.Float64Range(20, 68).Draw(t, "hrc"),
			Band: rapid.Float64Range(0.5, 6).Draw(t, "band")}
		hrc, low, high := e.Rounded()
		step := Step(e.Band)
		for _, v := range []float64{hrc, low, high} {
			assert.Equal(t, math.Round(v/step)*step, v)
		}
		assert.LessOrEqual(t, low, e.HRC-e.Band+1e-6)
		assert.GreaterOrEqual(t, high, e.HRC+e.Band-1e-6)
		assert.Less(t, high-low, 2*e.Band+2*step)
		assert.LessOrEqual(t, math.Abs(hrc-e.HRC), step/2+1e-9)
	})
	hrc, low, high := Estimate{HRC: 61.46, Band: 1.5}.Rounded()
	assert.Equal(t, [3]float64{61.5, 59.5, 63}, [3]float64{hrc, low, high})
	hrc, low, high = Estimate{HRC: 54.96, Band: 4.5}.Rounded()
	assert.Equal(t, [3]float64{55, 50, 60}, [3]float64{hrc, low, high})
	_, low, high = Estimate{HRC: 61, Band: 2}.Rounded()
	assert.Equal(t, [2]float64{59, 63}, [2]float64{low, high})
}

func TestCautions(t *testing.T) {
	says := func(name string, f float64) string {
		s, _ := Find(name, nil)
		return strings.Join(s.Cautions(temp.F(f)), "; ")
	}
	assert.Empty(t, says("1084", 400))
	assert.Empty(t, says("1084", 350))
	assert.Empty(t, says("1084", 450))
	assert.Contains(t, says("1084", 460), "begins to make steel brittle")
	assert.Contains(t, says("1084", 500), "500 to 700 °F")
	assert.Contains(t, says("1084", 500), "usually tempered from 350 °F (175 °C) to 450 °F (230 °C)")
	assert.Contains(t, says("L6", 500), "said to escape")
	assert.NotContains(t, says("L6", 500), "usually tempered")
	assert.Equal(t, "1500 °F (815 °C)", About(815))
}
