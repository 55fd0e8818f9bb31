package steel

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe/temp"
)

const shelf = "../../testdata/steel/"

// readJSON reads a file of figures into v.
func readJSON(t testing.TB, name string, v any) {
	t.Helper()
	text, err := os.ReadFile(shelf + name)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(text, v))
}

// point is a measured hardness.
type point struct {
	source, steel, flag string
	at                  temp.C
	span                time.Duration
	carbon, hrc         float64
}

func (p point) dose() Dose { return Soaked(p.at, p.span) }

// counted reports whether the point is within what the curves speak of.
func (p point) counted() bool {
	return p.flag == "" && p.at >= 150 && p.at <= 400 && p.span >= Shortest && p.span <= Longest
}

// plain reports whether it is of a plain carbon steel within the melts' carbon.
func (p point) plain() bool {
	return p.carbon >= 0.56 && p.carbon <= 1.15 &&
		(strings.Contains(p.steel, "plain carbon") || strings.Contains(p.steel, "SAE 10"))
}

func measured(t testing.TB) []point {
	t.Helper()
	f, err := os.Open(shelf + "tempering_measured.csv")
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	require.NoError(t, err)
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	var points []point
	for _, row := range rows[1:] {
		points = append(points, point{
			source: row[column["source"]], steel: row[column["steel_as_named"]],
			flag: row[column["flag"]], at: temp.C(number(t, row[column["temp_c"]])),
			span:   time.Duration(number(t, row[column["time_s"]]) * float64(time.Second)),
			carbon: number(t, row[column["C"]]), hrc: number(t, row[column["hrc"]]),
		})
	}
	require.Len(t, points, 1115)
	return points
}

func number(t testing.TB, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return v
}

// polynomial fits y against x by least squares; x is best around 0.
func polynomial(x, y []float64, terms int) []float64 {
	a := make([][]float64, terms)
	for i := range a {
		a[i] = make([]float64, terms+1)
		for k := range x {
			for j := range terms {
				a[i][j] += math.Pow(x[k], float64(i+j))
			}
			a[i][terms] += y[k] * math.Pow(x[k], float64(i))
		}
	}
	for i := range a {
		for k := range a {
			if k == i {
				continue
			}
			w := a[k][i] / a[i][i]
			for j := i; j <= terms; j++ {
				a[k][j] -= w * a[i][j]
			}
		}
	}
	out := make([]float64, terms)
	for i := range a {
		out[i] = a[i][terms] / a[i][i]
	}
	return out
}

func value(a []float64, x float64) (y float64) {
	for i := len(a) - 1; i >= 0; i-- {
		y = y*x + a[i]
	}
	return y
}
