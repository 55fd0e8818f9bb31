package steel

import (
	"encoding/json"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestTemperBand reckons the band from the figures as they stand in testdata/steel/steels.json,
// without the generated tables: of the blade steels, those that need no more than a forge and oil.
func TestTemperBand(t *testing.T) {
	data, err := os.ReadFile("../../testdata/steel/steels.json")
	require.NoError(t, err)
	var file struct {
		Steels []struct {
			Name   string `json:"name"`
			Temper struct {
				V []float64 `json:"v"`
			} `json:"temper_c"`
		} `json:"steels"`
	}
	require.NoError(t, json.Unmarshal(data, &file))
	low, high, n := 1e9, 0.0, 0
	for _, s := range file.Steels {
		switch s.Name {
		case "A2", "D2", "440C", "AEB-L", "4140": // a sealed oven, cold after the quench; tooling
			continue
		}
		n++
		low, high = min(low, s.Temper.V[0]), max(high, s.Temper.V[1])
	}
	require.Greater(t, n, 8)
	gotLow, gotHigh := TemperBand()
	require.Equal(t, []float64{low, high}, []float64{float64(gotLow), float64(gotHigh)})
	require.Equal(t, []float64{150, 315}, []float64{low, high})
}
