package control

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe/temp"
	"strawline/profiles"
	"strawline/profiles/steel"
)

// oddAt asks of a temper that is typed with its unit, in an oven with a limit far off.
func oddAt(t testing.TB, typed, of string) []string {
	t.Helper()
	at, u, err := temp.Parse(typed)
	require.NoError(t, err)
	p, err := profiles.Temper(at, 2*time.Hour, 2, 5, u)
	require.NoError(t, err, typed)
	info := Info{Profile: *p, Shop: Shop{LimitC: 1300}}
	if of != "" {
		info.Blade = &BladeInfo{Steel: of}
	}
	return Odd(info)
}

// TestOdd: the conversions are by hand. The ranges are those of testdata/steel/steels.json: 1084
// 175 to 230 °C, L6 175 to 315, 4140 205 to 650; all blade steels of a forge 150 to 315.
func TestOdd(t *testing.T) {
	const above, unit = "), is above ", "is the unit right?"
	for _, c := range []struct {
		typed, steel string
		want         []string // of one line; nil for no question
	}{
		{"204C", "", nil}, {"400F", "", nil}, {"204C", "1084", nil}, {"400F", "1084", nil},
		{"300C", "", nil}, {"572F", "", nil}, // 572 °F is 300 °C
		{"301C", "", []string{"301 °C (574 °F)", above}},
		{"573F", "", []string{"573 °F (301 °C)", "is above 572 °F (300 °C)"}},
		{"400C", "", []string{"400 °C (752 °F)", "above what a blade is tempered at (315 °C (599 °F))",
			"400 °F (204 °C) would be an ordinary temper", unit}},
		{"375C", "", []string{"375 °F (191 °C) would be", unit}},
		{"375C", "1084", []string{"above what 1084 is tempered at (230 °C (446 °F))", unit}},
		{"310C", "1084", []string{"310 °F (154 °C) would be", unit}},
		{"310C", "", []string{above}}, {"310C", "L6", []string{above}}, // L6 is tempered there
		{"400C", "4140", []string{above}}, {"400C", "nobody's", []string{unit}},
		{"600C", "", []string{above}},  // 600 °F is 316 °C
		{"599C", "", []string{unit}},   // and 599 °F 315
		{"815C", "", []string{above}},  // a hardening heat
		{"1500F", "", []string{above}}, // the same
		{"204F", "", []string{"204 °F (96 °C)", "below any temper that was measured (284 °F (140 °C))",
			"204 °C (399 °F) would be an ordinary temper", unit}},
		{"283F", "", []string{unit}}, {"284F", "", nil}, // 284 °F is 140 °C
		{"300F", "1084", nil},               // a low temper, and no slip
		{"149F", "", nil}, {"60C", "", nil}, // to dry something
		{"120C", "", nil}, // 120 °F is 49 °C: no temper either way
	} {
		got := oddAt(t, c.typed, c.steel)
		if c.want == nil {
			assert.Empty(t, got, "%s %s", c.typed, c.steel)
			continue
		}
		require.Len(t, got, 1, "%s %s: never twice for the same", c.typed, c.steel)
		for _, w := range c.want {
			assert.Contains(t, got[0], w, "%s %s", c.typed, c.steel)
		}
		assert.Equal(t, c.want[len(c.want)-1] == unit, strings.HasSuffix(got[0], unit), c.typed)
	}
}

// TestABoardThatFailedItsProofIsAskedAbout: whatever the run, and not where it heats nothing.
func TestABoardThatFailedItsProofIsAskedAbout(t *testing.T) {
	p, err := profiles.Temper(200, 2*time.Hour, 2, 5, temp.Celsius)
	require.NoError(t, err)
	for want, proofs := range map[string]*Proofs{
		"":                                {},
		"the board's limit FAILED its":    {Limit: ProofInfo{Failed: "2026-11-24"}},
		"the board's dead man FAILED its": {DeadMan: ProofInfo{Failed: "2026-11-24"}},
	} {
		info := Info{Profile: *p, Shop: Shop{LimitC: 1300, Proofs: proofs}}
		got := Odd(info)
		if want == "" {
			require.Empty(t, got)
			continue
		}
		require.Len(t, got, 1)
		assert.Contains(t, got[0], want)
		info.Shop.NoHeater = true
		require.Empty(t, Odd(info))
	}
}

// TestOddGoesByTheSteelThatOnesOwnIsLike: a smith's own steel has the range of the other.
func TestOddGoesByTheSteelThatOnesOwnIsLike(t *testing.T) {
	p, err := profiles.Temper(310, 2*time.Hour, 2, 5, temp.Celsius)
	require.NoError(t, err)
	got := Odd(Info{Profile: *p, Shop: Shop{LimitC: 1300},
		Blade: &BladeInfo{Steel: "bar-2", Like: "1084"}})
	require.Len(t, got, 1)
	assert.Contains(t, got[0], "above what 1084 is tempered at (230 °C")
}

// TestOddLimits: a profile's limit within 5 °C of the oven's is asked about, be the board's a
// quarter of a degree below that; the person's own heat is not.
func TestOddLimits(t *testing.T) {
	p, err := profiles.Builtin("small-knife")
	require.NoError(t, err)
	p.Limit = 240
	for oven, asked := range map[temp.C]bool{240: true, 245: true, 245.25: true, 245.5: false,
		250: false} {
		info := Info{Profile: *p, Shop: Shop{LimitC: float64(oven)}}
		got := Odd(info)
		assert.Equal(t, asked, len(got) == 1, "%v: %v", oven, got)
		if asked {
			assert.Contains(t, got[0], "464 °F (240 °C), is within 9 °F of the oven's")
		}
		info.Shop.NoHeater = true
		assert.Empty(t, Odd(info))
	}
	p.Limit, p.Unit = 440, temp.Celsius
	p.Steps[0].To = 420
	got := Odd(Info{Profile: *p, Shop: Shop{LimitC: 442}})
	require.Len(t, got, 2, "two different things")
	assert.Contains(t, got[1], "is within 5 °C of the oven's")
}

// TestOddLimitsThatNobodyGave: the limit that the program makes for a temper is not asked about,
// however near the oven's it stands; the same limit given by a person is, in any unit, and so is
// whatever else is odd. The limits are 25 °C above the heat, up to a whole degree of its unit.
func TestOddLimitsThatNobodyGave(t *testing.T) {
	for _, c := range []struct {
		typed string
		limit temp.C // that is made
		oven  float64
		near  bool // the oven's limit leaves it no 5 °C and a quarter
	}{
		{"232C", 257, 260, true}, {"235C", 260, 260, true}, {"229.8C", 255, 260, true},
		{"229C", 254, 260, false}, {"229C", 254, 259.25, true}, {"204C", 229, 260, false},
		{"450F", temp.F(495), 260, true}, {"440F", temp.F(485), 260, false},
		{"400F", temp.F(445), 230, true},
	} {
		at, u, err := temp.Parse(c.typed)
		require.NoError(t, err)
		p, err := profiles.Temper(at, 2*time.Hour, 2, 5, u)
		require.NoError(t, err)
		require.InDelta(t, float64(c.limit), float64(p.Limit), 1e-9, c.typed)
		require.True(t, p.LimitMade)
		info := Info{Profile: *p, Shop: Shop{LimitC: c.oven}}
		assert.Empty(t, Odd(info), "%s in an oven to %v", c.typed, c.oven)
		info.Profile.LimitMade = false
		got := Odd(info)
		require.Equal(t, c.near, len(got) == 1, "%s in an oven to %v: %v", c.typed, c.oven, got)
		if c.near {
			assert.Contains(t, got[0], "of the oven's")
		}
	}
	p, err := profiles.Temper(400, 2*time.Hour, 2, 5, temp.Celsius)
	require.NoError(t, err)
	got := Odd(Info{Profile: *p, Shop: Shop{LimitC: 426}})
	require.Len(t, got, 1, "the heat is asked about, its limit is not")
	assert.Contains(t, got[0], "is the unit right?")
	for _, name := range profiles.Names() {
		p, err := profiles.Builtin(name)
		require.NoError(t, err)
		assert.False(t, p.LimitMade, "a profile has its limit from who wrote it")
	}
}

// TestNothingOddOfOrdinaryTempers: every built-in profile, every temper typed from 284 to 572 °F
// and from 140 to 300 °C, and all that the program itself advises, is begun without a question,
// for each steel and for none; above 300 °C the peak alone is asked about.
func TestNothingOddOfOrdinaryTempers(t *testing.T) {
	names := []string{""}
	for _, s := range steel.List() {
		names = append(names, s.Name)
	}
	quiet := func(p profiles.Profile, of string) {
		t.Helper()
		for _, u := range []temp.Unit{temp.Celsius, temp.Fahrenheit} { // and shown in the other unit
			if got := Odd(Info{Profile: p, Unit: u.String(), Blade: &BladeInfo{Steel: of},
				Shop: Shop{LimitC: float64(p.Limit) + 10}}); p.Peak() <= 300 {
				assert.Empty(t, got, "%s of %q", p.Name, of)
			} else if assert.Len(t, got, 1) && p.Unit == temp.Fahrenheit {
				assert.NotContains(t, got[0], "is the unit right", "%s of %q", p.Name, of)
			}
		}
	}
	for _, name := range profiles.Names() {
		p, err := profiles.Builtin(name)
		require.NoError(t, err)
		for _, of := range names {
			quiet(*p, of)
		}
	}
	typed := func(at temp.C, u temp.Unit, of string) {
		t.Helper()
		p, err := profiles.Temper(at, 2*time.Hour, 1, 5, u)
		require.NoError(t, err)
		quiet(*p, of)
	}
	for _, of := range names {
		for f := 284.0; f <= 572; f++ {
			typed(temp.F(f), temp.Fahrenheit, of)
		}
		for c := temp.C(140); c <= 300; c++ {
			typed(c, temp.Celsius, of)
		}
	}
	advised := 0
	for _, s := range steel.List() {
		for hrc := 40.0; hrc <= 66; hrc++ {
			if at, _, err := s.WantNear(hrc, 2*time.Hour, 2, 0); err == nil {
				typed(at, temp.Fahrenheit, s.Name)
				advised++
			}
			for _, use := range steel.Uses() {
				a, err := steel.Wish{Steel: s, ThickMM: 3, Use: use, Want: hrc}.Advise()
				if err == nil {
					quiet(*a.Profile, s.Name)
					advised++
				}
			}
		}
	}
	assert.Greater(t, advised, 200)
}

func TestAhead(t *testing.T) {
	p, err := profiles.Builtin("small-knife")
	require.NoError(t, err)
	info := Info{Profile: *p, Shop: Shop{LimitC: 260},
		Blade: &BladeInfo{Text: "paring knife", Steel: "1084", ThickMM: 2.5}}
	// Two ramps from the cold at 0.5 °C/s (6 min and less), two waits of 5 min, two soaks of 2 h and
	// two coolings of 30 min, as the plan supposes: somewhat above 5 h 10 min.
	line := Ahead(info)
	assert.Regexp(t, `^small-knife: peak 400 °F \(204 °C\), about 5h[12]\dm in all; `+
		`paring knife, 1084, 2\.5 mm; the oven's limit 500 °F \(260 °C\)$`, line)
	info.Blade = nil
	assert.Contains(t, Ahead(info), "; no blade described; ")
	assert.NotContains(t, line, "\n")
}
