package shop

import (
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/probe/temp"
)

func fullFound(t testing.TB) Found {
	t.Helper()
	f, err := NewStore(filepath.Join(shelf, "good-found/full.toml")).Load()
	require.NoError(t, err)
	return f
}

// TestFoundKeys: each key of the format lands where it belongs.
func TestFoundKeys(t *testing.T) {
	assert.Equal(t, Found{
		Models: []Entry[Model]{{Of: "kiln", Date: Date{2026, 10, 1}, Run: "tune-1", Value: Model{
			Rise: 600.25, TimeConstant: 40 * time.Minute, Second: 45 * time.Second,
			DeadTime: 12125 * time.Millisecond}}},
		Gains: []Entry[FoundGains]{{Of: "kiln", Date: Date{2026, 10, 1}, Run: "tune-1",
			Value: FoundGains{Gains{Kp: 0.057, Ti: 2 * time.Minute, Td: 12 * time.Second,
				Weight: 0.5}, "SIMC"}}},
		Corrections: []Entry[Correction]{
			{Of: "blade", Date: Date{2026, 11, 3}, Value: Correction{
				Points: []Point{{0, 0.4}, {100, 99.1}}, Date: Date{2026, 11, 3},
				Source: "ice and boiling point"}},
			{Of: "oven-air", Date: Date{2026, 11, 2}, Run: "check-4", Value: Correction{
				Offset: 1.4, Date: Date{2026, 11, 2}, Source: "reference thermometer"}},
		},
		Checks: []Entry[Check]{{Of: "kiln", Date: Date{2026, 11, 13}, Run: "survey-2",
			Value: Check{Against: "ref", At: 204.5, Offset: 1.4, Swing: 2.25,
				Recovery: 150 * time.Second, Spread: 3}}},
		Wears: []Entry[Wear]{{Of: "oven-air", Date: Date{2026, 11, 4}, Run: "knife-9",
			Value: Wear{Warm: 12*time.Hour + 30*time.Minute, Aged: time.Minute, Peak: 265.5}}},
		Fitted: []Entry[Fitted]{{Of: "blade", Date: Date{2026, 2, 28}}},
		Convections: []Entry[Convection]{{Of: "kiln", Date: Date{2026, 11, 2}, Run: "knife-3",
			Value: Convection{W: 9.2, Within: 0.8}}},
		ProofLimits: []Entry[Proof]{{Of: "temper", Date: Date{2026, 11, 20}, Run: "proof",
			Value: Proof{Result: Passed, Seen: "latched at 101.0 °C", Port: "/dev/ttyUSB0",
				Board: "straw-uno", Limit: 260, Last: Date{2026, 11, 20}, LastBoard: "straw-uno",
				LastLimit: 260}}},
		ProofDeadMen: []Entry[Proof]{{Of: "temper", Date: Date{2026, 11, 20}, Value: Proof{
			Result: NotDone, Seen: "left out", Board: "straw-uno", Last: Date{2026, 8, 1},
			LastBoard: "straw-one", LastLimit: 250.5}}},
		ProofCables: []Entry[Proof]{{Of: "temper", Date: Date{2026, 11, 20},
			Value: Proof{Result: Failed, Board: "straw-uno"}}},
		ProofCutOuts: []Entry[Proof]{{Of: "temper", Date: Date{2026, 11, 20}, Value: Proof{
			Result: Passed, Seen: "you said: tried", Board: "straw-uno", Last: Date{2026, 11, 20}}}},
		Lowered: []Entry[Lowered]{{Of: "temper", Date: Date{2026, 11, 20}, Value: Lowered{
			Port: "/dev/ttyUSB0", Board: "straw-uno", To: 95, Before: probe.Settings{Guard: 2,
				Limit: 260.0625, Window: 4 * time.Second, MainsHz: 60}}}},
	}, fullFound(t))
}

// TestList: entries stand in the order of their names, and a new one takes the old one's place.
func TestList(t *testing.T) {
	var l []Entry[Fitted]
	for _, of := range []string{"m", "z", "a", "m"} {
		before := len(l)
		was := append([]Entry[Fitted](nil), l...)
		next := Put(l, Entry[Fitted]{Of: of, Date: Date{2026, 1, 1 + before}})
		assert.Equal(t, was, l, "the old list is left alone")
		l = next
	}
	assert.Equal(t, []Entry[Fitted]{{Of: "a", Date: Date{2026, 1, 3}},
		{Of: "m", Date: Date{2026, 1, 4}}, {Of: "z", Date: Date{2026, 1, 2}}}, l)
	assert.Equal(t, Date{2026, 1, 4}, Get(l, "m").Date)
	assert.Nil(t, Get(l, "b"))
	assert.Len(t, Drop(l, "a"), 2)
	assert.Len(t, Drop(l, "b"), 3)
	assert.Len(t, l, 3)
}

// TestUnwritable: what could not be read back is never written.
func TestUnwritable(t *testing.T) {
	at := Entry[Correction]{Of: "p", Date: Date{2026, 1, 1}, Value: Correction{Source: "ice"}}
	for name, spoil := range map[string]func(*Entry[Correction]){
		"no name":   func(e *Entry[Correction]) { e.Of = "" },
		"odd name":  func(e *Entry[Correction]) { e.Of = "a\"b" },
		"no date":   func(e *Entry[Correction]) { e.Date = Date{} },
		"no day":    func(e *Entry[Correction]) { e.Date = Date{2026, 2, 30} },
		"no source": func(e *Entry[Correction]) { e.Value.Source = "" },
		"two lines": func(e *Entry[Correction]) { e.Value.Source = "a\nb" },
		"control":   func(e *Entry[Correction]) { e.Value.Source = "a\x1b[2J" },
		"not utf-8": func(e *Entry[Correction]) { e.Value.Source = "a\xff" },
		"nan":       func(e *Entry[Correction]) { e.Value.Offset = temp.Delta(math.NaN()) },
		"large":     func(e *Entry[Correction]) { e.Value.Offset = 26 },
	} {
		e := at
		spoil(&e)
		text, err := Found{Corrections: []Entry[Correction]{e}}.Bytes()
		assert.Error(t, err, name)
		assert.Nil(t, text, name)
	}
	_, err := Found{Corrections: []Entry[Correction]{at}}.Bytes()
	assert.NoError(t, err)
	_, err = Found{Corrections: []Entry[Correction]{at, at}}.Bytes()
	assert.ErrorContains(t, err, "already")
}

func TestCheckWords(t *testing.T) {
	e := &Entry[Check]{Date: Date{2026, 11, 13}, Value: Check{Offset: 1.4}}
	for _, c := range []struct {
		today Date
		u     temp.Unit
		want  string
	}{
		{Date{2026, 11, 25}, temp.Celsius, "last check 12 days ago, +1.4 °C"},
		{Date{2026, 11, 25}, temp.Fahrenheit, "last check 12 days ago, +2.5 °F"},
		{Date{2026, 11, 14}, temp.Celsius, "last check 1 day ago, +1.4 °C"},
		{Date{2026, 11, 13}, temp.Celsius, "last check today, +1.4 °C"},
		{Date{2027, 11, 13}, temp.Celsius, "last check 365 days ago, +1.4 °C"},
		{Date{2026, 11, 12}, temp.Celsius,
			"last check dated 2026-11-13, which is after today, +1.4 °C"},
	} {
		assert.Equal(t, c.want, CheckWords(e, c.today, c.u))
	}
	assert.Equal(t, "never checked", CheckWords(nil, Date{2026, 1, 1}, temp.Celsius))
}

// TestPicks: shop.toml wins, and the pick says what it hides.
func TestPicks(t *testing.T) {
	s, f := full(t), fullFound(t)
	g := PickGains(s, f, "kiln")
	assert.Equal(t, *s.Oven("kiln").Gains, g.Value)
	assert.Equal(t, FromShop, g.Origin)
	require.NotNil(t, g.Hidden)
	assert.InDelta(t, 0.057, g.Hidden.Value.Kp, 1e-15)
	assert.Equal(t, "from shop.toml, instead of what was found 2026-10-01 in run tune-1",
		g.Words())

	s.Oven("kiln").Gains = nil
	g = PickGains(s, f, "kiln")
	assert.Equal(t, FromFound, g.Origin)
	assert.InDelta(t, 0.057, g.Value.Kp, 1e-15)
	assert.Nil(t, g.Hidden)
	assert.Equal(t, "found 2026-10-01 in run tune-1", g.Words())

	same := g.Value
	s.Oven("kiln").Gains = &same
	g = PickGains(s, f, "kiln")
	assert.Nil(t, g.Hidden, "pasted as it was found")
	assert.Equal(t, "from shop.toml", g.Words())

	g = PickGains(s, f, "kitchen")
	assert.Equal(t, Pick[Gains]{}, g)
	assert.Equal(t, "not known", g.Words())
	assert.Equal(t, FromNowhere, PickModel(s, f, "nobody").Origin)
	m := PickModel(s, f, "kiln")
	assert.Equal(t, FromShop, m.Origin)
	assert.Equal(t, temp.Delta(600.25), m.Hidden.Value.Rise)
	s.Oven("kiln").Model = nil
	assert.Equal(t, temp.Delta(600.25), PickModel(s, f, "kiln").Value.Rise)
}

func TestPickCorrection(t *testing.T) {
	s, f := full(t), fullFound(t)
	c := PickCorrection(s, f, "oven-air")
	assert.Equal(t, FromShop, c.Origin)
	assert.Equal(t, Date{2026, 11, 2}, c.Date)
	assert.Equal(t, temp.Delta(1.4), c.Hidden.Value.Offset)
	assert.False(t, c.Outdated)

	s.Probe("oven-air").Correction = nil
	c = PickCorrection(s, f, "oven-air")
	assert.Equal(t, []any{FromFound, "check-4", temp.Delta(1.4), false},
		[]any{c.Origin, c.Run, c.Value.Offset, c.Outdated})

	s.Probe("oven-air").Fitted = Date{2026, 11, 3}
	c = PickCorrection(s, f, "oven-air")
	assert.True(t, c.Outdated, "another probe hangs there now")
	assert.Equal(t, "found 2026-11-02 in run check-4, before this probe was fitted", c.Words())
	s.Probe("oven-air").Fitted = Date{2026, 11, 2}
	assert.False(t, PickCorrection(s, f, "oven-air").Outdated)

	s.Probe("oven-air").Fitted = Date{}
	f.Fitted = Put(f.Fitted, Entry[Fitted]{Of: "oven-air", Date: Date{2026, 11, 20}})
	assert.True(t, PickCorrection(s, f, "oven-air").Outdated)
	p := PickFitted(s, f, "oven-air")
	assert.Equal(t, []any{FromFound, Date{2026, 11, 20}}, []any{p.Origin, p.Value})
	p = PickFitted(s, f, "blade")
	assert.Equal(t, []any{FromShop, Date{2026, 2, 28}}, []any{p.Origin, p.Value})
	assert.Nil(t, p.Hidden, "both say the same day")
	assert.Equal(t, FromNowhere, PickCorrection(s, f, "wall").Origin)
	assert.False(t, PickCorrection(s, f, "wall").Outdated)
}

// TestFoundPaste: what was found, pasted under its oven or probe, is what the shop file then says.
func TestFoundPaste(t *testing.T) {
	f := fullFound(t)
	const head = "[[board]]\nname = \"b\"\nkind = \"strawline board\"\nport = \"x\"\n"
	const probe = "[[probe]]\nname = \"blade\"\nboard = \"b\"\nuse = \"oven air\"\n"
	const oven = "[[oven]]\nname = \"kiln\"\nlimit = \"260C\"\nboard = \"b\"\n"
	for _, u := range []temp.Unit{temp.Celsius, temp.Fahrenheit} {
		s, err := Parse("a", []byte(head+probe+f.Paste("blade", u)+oven+f.Paste("kiln", u)))
		require.NoError(t, err)
		assert.Equal(t, f.Corrections[0].Value, *s.Probes[0].Correction)
		assert.Equal(t, f.Gains[0].Value.Gains, *s.Ovens[0].Gains)
		assert.Equal(t, f.Models[0].Value, *s.Ovens[0].Model)
		assert.Equal(t, FromShop, PickModel(s, f, "kiln").Origin)
		assert.Nil(t, PickModel(s, f, "kiln").Hidden)
	}
	assert.Empty(t, f.Paste("nobody", temp.Celsius))
	assert.Equal(t, filepath.Join("a", "b", "found.toml"), FoundPath(filepath.Join("a", "b", "s.toml")))
	_, err := os.Stat("found.toml")
	assert.ErrorIs(t, err, os.ErrNotExist)
}
