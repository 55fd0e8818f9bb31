package steel

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/probe/temp"
	"strawline/profiles"
)

func wish(t *testing.T, name, use string, mm, want float64) (Advice, error) {
	t.Helper()
	s, is := Find(name, nil)
	require.True(t, is)
	return Wish{Steel: s, Use: use, ThickMM: mm, Want: want}.Advise()
}

// TestCommonPractice is what makers do, not a measurement: small knife 400 °F, larger 425 °F,
// kitchen 380 to 390 °F, two cycles of two hours, straightening down to about 400 °F.
func TestCommonPractice(t *testing.T) {
	for _, name := range strings.Fields("1075 1080 1084 1095 52100 15N20 80CrV2 W1 W2 O1 5160") {
		for _, c := range []struct {
			use string
			mm  float64
			f   float64
		}{{"general", 3, 400}, {"general", 6, 425}, {"kitchen", 2, 385}} {
			a, err := wish(t, name, c.use, c.mm, 0)
			require.NoError(t, err)
			assert.InDelta(t, c.f, a.At.F(), 1e-9, "%s %s", name, c.use)
			var soaks []time.Duration
			for _, s := range a.Profile.Steps {
				if s.Kind == profiles.Soak {
					soaks = append(soaks, s.For)
					assert.InDelta(t, c.f, s.To.F(), 1e-9)
				}
			}
			assert.Equal(t, []time.Duration{2 * time.Hour, 2 * time.Hour}, soaks)
			says := strings.Join(a.Reasons, "\n")
			assert.Contains(t, says, "down to about 400 °F")
			differs := name == "O1" || name == "5160"
			assert.Equal(t, differs, strings.Contains(says, "differs"), name)
			own := strings.Contains(strings.Join(a.Cautions, "\n"), "own figures give")
			differs = name == "5160" || name == "O1" && c.f == 400
			assert.Equal(t, differs, own, "%s %s", name, c.use)
			assert.Equal(t, own, a.Instead != "", name)
		}
	}
}

// TestChopper: plain steels sit at the edge of embrittlement, and 5160 is named instead.
func TestChopper(t *testing.T) {
	a, err := wish(t, "1084", "chopper", 6, 0)
	require.NoError(t, err)
	assert.InDelta(t, 450, a.At.F(), 1e-9)
	assert.Contains(t, a.Instead, "5160 at 350 °F")
	a, err = wish(t, "1095", "spring", 3, 0)
	require.NoError(t, err)
	assert.Greater(t, a.At.F(), 500.0)
	assert.Contains(t, strings.Join(a.Cautions, "\n"), "brittle")
	assert.Contains(t, a.Instead, "5160 at 4")
}

// TestWishesThatCannotBe: the error says why and what can be had.
func TestWishesThatCannotBe(t *testing.T) {
	_, err := wish(t, "5160", "kitchen", 3, 63)
	assert.ErrorContains(t, err, "from 350 to 450 °F 5160 has 56 down to 52 HRC")
	assert.ErrorContains(t, err, "63 HRC are had with")
	assert.ErrorContains(t, err, "1095 at ")
	_, err = wish(t, "1084", "kitchen", 3, 69)
	assert.ErrorContains(t, err, "none of the steels here has 69 HRC")
	_, err = wish(t, "A2", "kitchen", 3, 0)
	assert.ErrorContains(t, err, "do not fit A2")
	_, err = wish(t, "1084", "kitchin", 3, 0)
	assert.ErrorContains(t, err, "there is kitchen, general")
	_, err = wish(t, "1084", "kitchen", 0, 0)
	assert.ErrorContains(t, err, "outside")
}

// TestAdviceIsAProfile: whatever is wished, what comes out can be read back and runs at the
// temperature that the advice names, with the hardness that it names.
func TestAdviceIsAProfile(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := Wish{
			Steel:   rapid.SampledFrom(List()).Draw(t, "steel"),
			Use:     rapid.SampledFrom(Uses()).Draw(t, "use"),
			ThickMM: rapid.Float64Range(0.5, 60).Draw(t, "mm"),
			Want:    rapid.SampledFrom([]float64{0, 45, 52, 57, 60, 63, 66}).Draw(t, "want"),
		}
		a, err := w.Advise()
		if err != nil {
			return
		}
		p, err := profiles.Parse("x", []byte(a.TOML))
		require.NoError(t, err)
		assert.Equal(t, a.Profile, p)
		assert.NotEmpty(t, a.Reasons)
		for _, s := range p.Steps {
			if s.Kind == profiles.Soak {
				assert.InDelta(t, float64(a.At), float64(s.To), 1e-9)
			}
		}
		e, err := w.Steel.Tempered(a.At, 2*time.Hour, 2, 0)
		require.NoError(t, err)
		assert.Equal(t, e, a.Estimate)
		if w.Want > 0 {
			assert.InDelta(t, w.Want, e.HRC, 0.3)
		}
		if a.At > temp.F(451) {
			assert.NotEmpty(t, a.Instead)
		}
	})
}
