package control

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe/temp"
)

// TestEvidence: what a run file says of readings, duties, doubts and an open door is what a model
// is found from, and chip words are used only by a decoder that makes of them what was believed.
func TestEvidence(t *testing.T) {
	info := Info{Shop: Shop{Channels: []string{"case", "oven air"}, Lead: 2,
		Corrections: []Correction{{}, {OffsetC: -2}}}, Test: &TestInfo{TargetC: 200}}
	at := func(n int, y *float64, word uint32, duty int) Record {
		return Record{Sample: &Sample{T: time.Duration(n) * time.Second, Duty: duty,
			Temp: []*float64{ptr(30.0), y}, Raw: []uint32{1, word}, HasRaw: []bool{true, true}}}
	}
	ev := func(kind EventKind, word string) Record { return Record{Event: &Event{Kind: kind, Word: word}} }
	records := []Record{
		at(1, nil, 0, 0), // before the first reading there is nothing to say
		at(2, ptr(100.0), 103, 1000),
		ev(EvDoubt, ""), at(3, nil, 0, 0), ev(EvClear, ""),
		at(4, ptr(101.0), 102, 300),
		at(4, ptr(101.0), 102, 300), // the same instant again
		ev(EvLaw, "door"), at(5, ptr(99.0), 101, 300), ev(EvLaw, "holding"),
		ev(EvTest, TestSwinging), at(6, ptr(102.0), 300, 450),
		ev(EvTrip, ""), at(7, ptr(102.0), 105, 0), ev(EvGoOn, ""), at(8, ptr(102.0), 104, 450),
	}
	e := NewEvidence(info, records)
	require.False(t, e.Raw)
	require.Equal(t, 300.0, e.HoldPM)
	require.Equal(t, 200.0, e.HoldC)
	var times, ys, duties []float64
	marks := ""
	for _, s := range e.Record {
		times, ys, duties = append(times, s.T), append(ys, s.Y), append(duties, s.Duty)
		mark := "."
		switch {
		case s.Bad && s.Limited:
			mark = "b"
		case s.Limited:
			mark = "l"
		case s.Door:
			mark = "d"
		}
		marks += mark
	}
	require.Equal(t, []float64{2, 3, 4, 5, 6, 7, 8}, times)
	require.Equal(t, []float64{100, 100, 101, 99, 102, 102, 102}, ys)
	require.Equal(t, []float64{1, 0, 0.3, 0.3, 0.45, 0, 0.45}, duties)
	require.Equal(t, ".b.d.l.", marks)

	degrees := func(w uint32) (temp.C, bool) { return temp.C(w), true }
	twice := func(w uint32) (temp.C, bool) { return temp.C(2 * w), true }
	none := func(uint32) (temp.C, bool) { return 0, false }
	// One wild word of hundreds is left out; here it is one of six, so the decoder is not believed.
	require.False(t, NewEvidence(info, records, none, twice, degrees).Raw)
	records[11] = at(6, ptr(102.0), 104, 450)
	e = NewEvidence(info, records, none, twice, degrees)
	require.True(t, e.Raw)
	require.Equal(t, []float64{101, 101, 100, 99, 102, 103, 102}, []float64{e.Record[0].Y,
		e.Record[1].Y, e.Record[2].Y, e.Record[3].Y, e.Record[4].Y, e.Record[5].Y, e.Record[6].Y})
}
