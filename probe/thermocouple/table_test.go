package thermocouple

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func carried(t *testing.T, name string) []byte {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "thermocouple", name))
	require.NoError(t, err)
	return text
}

// printedPiece is one polynomial as the carried table has it.
type printedPiece struct {
	Printed []string
	From    *float64 `json:"t_min_c"`
	To      *float64 `json:"t_max_c"`
	MVFrom  *float64 `json:"e_min_mv"`
	MVTo    *float64 `json:"e_max_mv"`
}

// The committed table has the digits that NIST printed, each coefficient in its place: as a
// number to the last bit, and as text in the source.
func TestTableHasThePrintedDigits(t *testing.T) {
	var table struct {
		Types map[string]struct {
			Forward, Inverse []printedPiece
			Gaussian         *struct{ Printed struct{ A0, A1, A2 string } }
		}
	}
	require.NoError(t, json.Unmarshal(carried(t, "its90_coefficients.json"), &table))
	require.Len(t, table.Types, len(Types()))
	source, err := os.ReadFile("its90.go")
	require.NoError(t, err)
	words := strings.Join(strings.Fields(string(source)), " ")
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		require.NoError(t, err)
		return v
	}
	compare := func(printed []printedPiece, built []piece, from, to func(printedPiece) float64) {
		require.NotEmpty(t, printed)
		require.Len(t, built, len(printed))
		for i, p := range printed {
			require.Equal(t, from(p), built[i].from)
			require.Equal(t, to(p), built[i].to)
			require.Len(t, built[i].c, len(p.Printed))
			for j, digits := range p.Printed {
				require.Equal(t, number(digits), built[i].c[j])
			}
			require.Contains(t, words, "{ "+strings.ToLower(strings.Join(p.Printed, ", "))+", }")
		}
	}
	for _, ty := range Types() {
		k, built := table.Types[ty.String()], curves[ty]
		require.Equal(t, ty.String(), built.name)
		compare(k.Forward, built.forward, func(p printedPiece) float64 { return *p.From },
			func(p printedPiece) float64 { return *p.To })
		compare(k.Inverse, built.inverse, func(p printedPiece) float64 { return *p.MVFrom },
			func(p printedPiece) float64 { return *p.MVTo })
		require.Equal(t, *k.Inverse[0].From, built.coldest)
		require.Equal(t, *k.Inverse[len(k.Inverse)-1].To, built.hottest)
		require.Equal(t, ty == K, k.Gaussian != nil)
		if ty != K {
			require.Nil(t, built.bell)
			continue
		}
		g := k.Gaussian.Printed
		require.Equal(t, bell{number(g.A0), number(g.A1), number(g.A2)}, *built.bell)
		require.Contains(t, words, strings.ToLower("a0: "+g.A0+", a1: "+g.A1+", a2: "+g.A2))
	}
}
