package modbus_test

import (
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe/modbus"
)

// TestValues holds the file that values.py packed.
func TestValues(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(shelf, "values.csv"))
	require.NoError(t, err)
	faults := map[string]modbus.Fault{"": modbus.FaultNone, "end": modbus.FaultEnd,
		"nan": modbus.FaultNaN}
	rows := 0
	for line := range strings.Lines(string(text)) {
		if strings.HasPrefix(line, "#") {
			continue
		}
		rows++
		cell := strings.Split(strings.TrimSpace(line), ",")
		require.Len(t, cell, 5)
		f := modbus.Format{Scale: 0.1, Low: -1e12, High: 1e12}
		f.Type, err = modbus.ParseType(cell[0])
		require.NoError(t, err)
		f.Order, err = modbus.ParseOrder(cell[1])
		require.NoError(t, err)
		assert.Equal(t, cell[0]+cell[1], f.Type.String()+f.Order.String())
		got, fault := f.Value(unhex(t, cell[2]))
		assert.Equal(t, faults[cell[4]], fault, line)
		want := 0.0
		if cell[3] != "" {
			want, err = strconv.ParseFloat(cell[3], 64)
			require.NoError(t, err)
		}
		assert.InDelta(t, want*0.1, got, math.Abs(want)*1e-15, line)
	}
	assert.Greater(t, rows, 150)
}

func TestValueRange(t *testing.T) {
	f := modbus.Format{Type: modbus.Int16, Order: modbus.ABCD, Scale: 0.1, Low: -200, High: 1372}
	for _, c := range []struct {
		bytes string
		want  float64
		fault modbus.Fault
	}{
		{"0714", 181.2, modbus.FaultNone}, // 1812 tenths
		{"F830", -200, modbus.FaultNone},  // -2000 tenths
		{"F82F", 0, modbus.FaultRange},
		{"3599", 0, modbus.FaultRange}, // 13721 tenths
		{"7FFF", 0, modbus.FaultEnd},
		{"071400", 0, modbus.FaultFormat},
		{"", 0, modbus.FaultFormat},
		{"00000714", 0, modbus.FaultFormat},
	} {
		got, fault := f.Value(unhex(t, c.bytes))
		assert.Equal(t, c.fault, fault, c.bytes)
		assert.InDelta(t, c.want, got, 1e-9, c.bytes)
	}
	words := map[string]bool{}
	for fault := modbus.FaultNone; fault <= modbus.FaultFormat; fault++ {
		words[fault.String()] = true
	}
	assert.Len(t, words, 5)
}

func TestFormatCheck(t *testing.T) {
	good := modbus.Format{Type: modbus.Float32, Order: modbus.CDAB, Scale: 1, Low: 0, High: 10}
	require.NoError(t, good.Check())
	for name, spoil := range map[string]func(*modbus.Format){
		"type":  func(f *modbus.Format) { f.Type = 0 },
		"beyon": func(f *modbus.Format) { f.Type = modbus.Float32 + 1 },
		"order": func(f *modbus.Format) { f.Order = modbus.DCBA + 1 },
		"zero":  func(f *modbus.Format) { f.Scale = 0 },
		"minus": func(f *modbus.Format) { f.Scale = -0.1 },
		"nan":   func(f *modbus.Format) { f.Scale = math.NaN() },
		"inf":   func(f *modbus.Format) { f.Scale = math.Inf(1) },
		"low":   func(f *modbus.Format) { f.Low = 10 },
		"lowna": func(f *modbus.Format) { f.Low = math.NaN() },
		"high":  func(f *modbus.Format) { f.High = math.Inf(1) },
	} {
		f := good
		spoil(&f)
		assert.ErrorIs(t, f.Check(), modbus.ErrFormat, name)
		_, fault := f.Value([]byte{0x3F, 0x80, 0, 0})
		assert.Equal(t, modbus.FaultFormat, fault, name)
	}
	_, err := modbus.ParseType("int8")
	assert.ErrorContains(t, err, "int16 uint16 int32 uint32 float32")
	_, err = modbus.ParseOrder("abcd")
	assert.ErrorContains(t, err, "ABCD CDAB BADC DCBA")
	_, err = modbus.ParseOrder("")
	assert.Error(t, err)
}
