package plant

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

// trajectory is one reference run: the duty before any change and a state every 10 s.
type trajectory struct {
	duty   float64
	states []state
}

var dutyLine = regexp.MustCompile(`(?m)^# duty (\S+)$`)

// reference reads a trajectory of testdata/plant; its header says where it comes from.
func reference(t *testing.T, oven, run string) trajectory {
	t.Helper()
	name := fmt.Sprintf("oven-%s-%s.csv", oven, run)
	text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "plant", name))
	require.NoError(t, err)
	duty := dutyLine.FindSubmatch(text)
	require.NotNil(t, duty, "no duty in the header of %s", name)
	f, err := os.Open(filepath.Join("..", "..", "testdata", "plant", name))
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	require.NoError(t, err)
	require.Equal(t, []string{"t_s", "element_c", "air_c", "wall_c", "case_c", "blade_c",
		"probe_c"}, rows[0])
	require.Len(t, rows, 362, "an hour every 10 s, both ends, under a line of names")
	var tr trajectory
	tr.duty, err = strconv.ParseFloat(string(duty[1]), 64)
	require.NoError(t, err)
	for i, row := range rows[1:] {
		require.Equal(t, strconv.Itoa(10*i), row[0])
		var s state
		for p := range s {
			s[p], err = strconv.ParseFloat(row[p+1], 64)
			require.NoError(t, err)
		}
		tr.states = append(tr.states, s)
	}
	return tr
}

var ovens = map[string]func() Params{"a": A, "b": B}

// follow runs the oven along a reference, calling before ahead of each step, and gives the
// largest distance of any of its temperatures.
func follow(o *Oven, tr trajectory, watts float64, before func(step int)) float64 {
	worst := 0.0
	compare := func(i int) {
		for p, v := range tr.states[i] {
			if p != blade || o.Loaded() {
				worst = max(worst, math.Abs(o.x[p]-v))
			}
		}
	}
	compare(0)
	for i := range 4 * 3600 {
		before(i)
		o.Step(watts)
		if (i+1)%40 == 0 {
			compare((i + 1) / 40)
		}
	}
	return worst
}

// most is how far from the script's trajectories the oven may be, °C.
const most = 0.01

func TestReferenceTrajectories(t *testing.T) {
	still := func(int) {}
	for name, params := range ovens {
		p := params()
		t.Run(name+" cold", func(t *testing.T) {
			d := follow(New(p, 22), reference(t, name, "cold"), p.HeaterW, still)
			require.LessOrEqual(t, d, most)
			t.Logf("largest distance %.6f °C", d)
		})
		t.Run(name+" step", func(t *testing.T) {
			tr := reference(t, name, "step")
			o, duty, err := At(p, 190)
			require.NoError(t, err)
			require.InDelta(t, tr.duty, duty, 1e-6)
			d := follow(o, tr, (duty+0.05)*p.HeaterW, still)
			require.LessOrEqual(t, d, most)
			t.Logf("largest distance %.6f °C", d)
		})
		t.Run(name+" door", func(t *testing.T) {
			tr := reference(t, name, "door")
			o, duty, err := At(p, 200)
			require.NoError(t, err)
			require.InDelta(t, tr.duty, duty, 1e-6)
			d := follow(o, tr, duty*p.HeaterW, func(step int) {
				o.SetDoor(step >= 2400 && step < 2480)
			})
			require.LessOrEqual(t, d, most)
			t.Logf("largest distance %.6f °C", d)
		})
	}
}

func TestReferenceTrajectoriesEmpty(t *testing.T) {
	p := A()
	o := New(p, 22)
	o.BladeOut()
	d := follow(o, reference(t, "a", "empty"), p.HeaterW, func(int) {})
	require.LessOrEqual(t, d, most)
	require.True(t, math.IsNaN(float64(o.Blade())))

	tr := reference(t, "a", "load")
	o = New(p, 22)
	o.BladeOut()
	d = follow(o, tr, tr.duty*p.HeaterW, func(step int) {
		if step == 7200 {
			o.BladeIn(A().Blade, 22)
		}
	})
	require.LessOrEqual(t, d, most)
	require.True(t, o.Loaded())
}

// The heat lost is summed here from the reference's own temperatures, by the trapezoid rule,
// and the heat stored from its ends.
func TestBalanceAgainstReference(t *testing.T) {
	for name, params := range ovens {
		p := params()
		tr := reference(t, name, "cold")
		o := New(p, 22)
		follow(o, tr, p.HeaterW, func(int) {})
		room := float64(p.Room)
		loss := func(s state) float64 {
			return p.CaseAir*p.CaseArea*(s[outer]-room) + p.Leak*(s[air]-room) +
				p.CaseEmissivity*stefan*p.CaseArea*(fourth(s[outer])-fourth(room))
		}
		lost := 0.0
		for i := range len(tr.states) - 1 {
			lost += 5 * (loss(tr.states[i]) + loss(tr.states[i+1]))
		}
		heats := state{element: 125, air: 10, wall: p.WallHeat, outer: 850, blade: 0.314 * 500}
		stored := 0.0
		for i, heat := range heats {
			stored += heat * (tr.states[360][i] - tr.states[0][i])
		}
		in := 1400 * 3600.0
		b := o.Balance()
		require.InDelta(t, in, b.In, 1)
		require.InEpsilon(t, lost, b.Lost, 1e-3, name)
		require.InEpsilon(t, stored, b.Stored, 1e-3, name)
		require.Less(t, math.Abs(in-stored-lost), 1e-3*in, name)
		require.Less(t, math.Abs(b.Open()), 1e-3*in, name)
	}
}
