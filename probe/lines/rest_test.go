package lines

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe/temp"
)

// TestRestNamesOnlyWhatMatters: the shop file names the columns of the probes and the rest is no
// probe, wherever it stands. The lines are made up.
func TestRestNamesOnlyWhatMatters(t *testing.T) {
	c := temp.Celsius
	for _, k := range []struct {
		line    string
		columns []Column
		want    map[int]float64 // the last value of each channel
	}{
		{"%.2f,24.06,", []Column{{Role: Hot, Channel: 1}}, map[int]float64{1: 185}},
		{"7,%.2f,22.5", []Column{{Role: Skip}, {Role: Hot, Channel: 1}}, map[int]float64{1: 185}},
		{"kiln: %.2f box: 31.25", []Column{{Label: "kiln", Role: Hot, Channel: 1}},
			map[int]float64{1: 185}},
	} {
		r := New(Hint{Unit: &c, Columns: k.columns, Rest: true})
		got := map[int]float64{}
		for i := range 21 {
			line := fmt.Sprintf(k.line+"\r\n", 180+0.25*float64(i))
			r.Feed(time.Duration(i)*time.Second, []byte(line), func(it Item) {
				if it.Kind == Value {
					got[it.Channel] = float64(it.Hot)
				}
			})
		}
		require.Equal(t, k.want, got, "%s: %v", k.line, r.Questions())
	}
}
