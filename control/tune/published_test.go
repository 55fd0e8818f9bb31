package tune

import (
	"encoding/json"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// entry is one of testdata/control/check_values.json, whose header says where they come from;
// each has its own source and provenance.
type entry struct {
	Inputs, Expected map[string]any
	Tolerance        struct{ Rel, Abs float64 }
	Source           string
}

func entries(t testing.TB) map[string]entry {
	t.Helper()
	text, err := os.ReadFile("../../testdata/control/check_values.json")
	require.NoError(t, err)
	var file struct{ Entries map[string]entry }
	require.NoError(t, json.Unmarshal(text, &file))
	return file.Entries
}

// checker compares figures of one entry by its own tolerance, and notes which were compared.
type checker struct {
	t    *testing.T
	e    entry
	seen []string
}

// at follows a path with dots into a tree of figures.
func at(t testing.TB, tree map[string]any, path string) any {
	t.Helper()
	var now any = tree
	for _, key := range strings.Split(path, "/") {
		branch, ok := now.(map[string]any)
		require.True(t, ok, "no %s", path)
		require.Contains(t, branch, key)
		now = branch[key]
	}
	return now
}

func (c *checker) in(path string) float64 { return at(c.t, c.e.Inputs, path).(float64) }

func (c *checker) want(path string, got float64) {
	c.t.Helper()
	c.near(path, at(c.t, c.e.Expected, path).(float64), got)
}

func (c *checker) near(path string, want, got float64) {
	c.t.Helper()
	c.seen = append(c.seen, path)
	within := max(c.e.Tolerance.Abs, c.e.Tolerance.Rel*math.Abs(want))
	assert.InDelta(c.t, want, got, within, "%s (%s)", path, c.e.Source)
}

func (c *checker) list(path string, got func(i int) float64) {
	c.t.Helper()
	for i, want := range at(c.t, c.e.Expected, path).([]any) {
		c.near(path, want.(float64), got(i))
	}
}

func (c *checker) gains(path string, g Gains) {
	c.t.Helper()
	for key := range at(c.t, c.e.Expected, path).(map[string]any) {
		figure := map[string]float64{"K": g.K, "Ti": g.Ti, "Td": g.Td}
		if key == "Ms" {
			continue // of the loop, by the test itself
		}
		require.Contains(c.t, figure, key)
		c.want(path+"/"+key, figure[key])
	}
}

// leaves lists the paths of all figures.
func leaves(tree map[string]any, before string) []string {
	var out []string
	for key, v := range tree {
		if branch, ok := v.(map[string]any); ok {
			out = append(out, leaves(branch, before+key+"/")...)
		} else {
			out = append(out, before+key)
		}
	}
	return out
}

// elsewhere are the kinds of entry that do not concern this package, by the start of their name.
var elsewhere = []string{
	"windup_", "load_step_IE", "ramp_error", "pid_reference_vector", // control/pid
	"incropera_", "slab_eigen_", "blade_", // the steel in the oven
	"sg_", "mad_constant", "cusum_", "ams2750f_", // conditioning, drift and classes
	"benchmark_plant_", // whole runs of controllers on the reference ovens
}

// Every entry of the file is tested here or named as another package's, and every figure that a
// tested entry expects was compared.
func TestPublished(t *testing.T) {
	tests := publishedTests()
	all := entries(t)
	tested := 0
	for name, e := range all {
		foreign := slices.ContainsFunc(elsewhere, func(s string) bool {
			return strings.HasPrefix(name, s)
		})
		test, ok := tests[name]
		require.NotEqual(t, foreign, ok, "%s must be tested here or belong elsewhere", name)
		if foreign {
			continue
		}
		tested++
		t.Run(name, func(t *testing.T) {
			require.NotEmpty(t, e.Source)
			require.Positive(t, e.Tolerance.Rel+e.Tolerance.Abs)
			c := &checker{t: t, e: e}
			test(c)
			seen := slices.Compact(slices.Sorted(slices.Values(c.seen)))
			want := slices.Sorted(slices.Values(leaves(e.Expected, "")))
			assert.Equal(t, want, seen, "figures that were not compared")
		})
	}
	assert.Len(t, tests, tested, "a test has no entry")
	assert.Equal(t, 52, tested, "so many of the 71 entries are of these kinds")
	assert.Len(t, all, 71)
}
