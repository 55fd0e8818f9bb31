package modbus_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/probe/modbus"
)

// TestSlaveVectors: the simulated module gives the replies that the file has for its requests.
func TestSlaveVectors(t *testing.T) {
	holding := regs(0x70)
	copy(holding[0x6B:], []uint16{0xAE41, 0x5652, 0x4340})
	input := regs(9)
	input[8] = 10
	s := &modbus.Slave{Unit: 17, Holding: holding, Input: input}
	for _, c := range []struct{ req, want string }{
		{"11 03 00 6B 00 03 76 87", "11 03 06 AE 41 56 52 43 40 49 AD"},
		{"11 04 00 08 00 01 B2 98", "11 04 02 00 0A F8 F4"},
		{"01 03 00 00 00 0A C5 CD", ""}, // another unit
	} {
		got := s.Feed(unhex(t, c.req))
		if c.want == "" {
			assert.Nil(t, got)
			continue
		}
		assert.Equal(t, unhex(t, c.want), got)
	}
	short := &modbus.Slave{Unit: 1, Holding: regs(1)}
	assert.Equal(t, unhex(t, "01 83 02 C0 F1"), short.Feed(unhex(t, "01 03 00 00 00 02 C4 0B")))
}

// TestSlaveTakesNoWrites: the file's writing frames change nothing and are refused by name.
func TestSlaveTakesNoWrites(t *testing.T) {
	s := newSlave()
	for _, req := range []string{"11 06 00 01 00 03 9A 9B",
		"11 10 00 01 00 02 04 00 0A 01 02 C6 F0"} {
		got, err := modbus.Decode(s.Feed(unhex(t, req)))
		require.NoError(t, err)
		assert.Equal(t, modbus.KindException, got.Kind)
		assert.Equal(t, modbus.IllegalFunction, got.Exception)
	}
	assert.Equal(t, regs(40), s.Holding)
}

// TestSlaveFindsRequest: noise before a request does not hide it for ever.
func TestSlaveFindsRequest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := newSlave()
		got := s.Feed(rapid.SliceOfN(rapid.Byte(), 0, 40).Draw(t, "noise"))
		want := s.Asked + 1
		// What begins in the noise can wait for at most 264 bytes before it is given up.
		for range 264/8 + 2 {
			got = append(got, s.Feed(must(ask.Append(nil)))...)
		}
		require.GreaterOrEqual(t, s.Asked, want)
		require.NotEmpty(t, got)
	})
}
