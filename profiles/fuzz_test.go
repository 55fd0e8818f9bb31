package profiles

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Whatever the bytes: no panic; either a problem in one line with a place inside the
// document, or a profile that passes Check, round-trips through JSON and has a plan.
func FuzzParse(f *testing.F) {
	for _, pattern := range []string{"builtin/*.toml", shelf + "/good/*.toml",
		shelf + "/bad/*.toml"} {
		files, err := filepath.Glob(pattern)
		require.NoError(f, err)
		require.NotEmpty(f, files, pattern)
		for _, file := range files {
			data, err := os.ReadFile(file)
			require.NoError(f, err)
			f.Add(data)
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := Parse("fuzz.toml", data)
		if err != nil {
			problem, ok := err.(*Problem)
			require.True(t, ok)
			require.Nil(t, p)
			require.NotEmpty(t, problem.Text)
			require.Positive(t, problem.Line)
			require.Positive(t, problem.Column)
			lines := strings.Split(string(data), "\n")
			require.LessOrEqual(t, problem.Line, len(lines))
			require.LessOrEqual(t, problem.Column, len(lines[problem.Line-1])+1)
			require.True(t, printable(err.Error()), "%q", err.Error())
			return
		}
		require.NoError(t, p.Check())
		require.LessOrEqual(t, len(p.Steps), MaxSteps)
		roundTrip(t, *p)
		require.Len(t, Lengths(p.Steps), len(p.Steps))
		for _, w := range words(p) {
			require.True(t, printable(w))
		}
	})
}
