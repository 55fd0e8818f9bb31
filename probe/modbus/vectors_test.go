package modbus_test

import (
	"encoding/hex"
	"encoding/json"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe/modbus"
)

const shelf = "../../testdata/modbus"

func unhex(t testing.TB, s string) []byte {
	t.Helper()
	p, err := hex.DecodeString(strings.ReplaceAll(s, " ", ""))
	require.NoError(t, err)
	return p
}

type vector struct{ Frame, Meaning, Status string }

func vectors(t testing.TB) (list []vector) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(shelf, "modbus_vectors.json"))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(text, &list))
	require.Len(t, list, 16)
	return list
}

// TestCRC: the check value of CRC-16/MODBUS is the CRC catalogue's; its relatives' differ.
func TestCRC(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(shelf, "crc_vectors.json"))
	require.NoError(t, err)
	var list []struct{ Name, Input, Check string }
	require.NoError(t, json.Unmarshal(text, &list))
	ours := 0
	for _, v := range list {
		want, err := strconv.ParseUint(v.Check, 16, 16)
		require.NoError(t, err)
		if v.Name == "CRC-16/MODBUS" {
			ours++
			assert.Equal(t, uint16(want), modbus.CRC([]byte(v.Input)), v.Name)
			continue
		}
		assert.NotEqual(t, uint16(want), modbus.CRC([]byte(v.Input)), v.Name)
	}
	require.Equal(t, 1, ours)
}

// TestVectors: every frame is read as the file's words say; those words stand beside it here
// as fields.
func TestVectors(t *testing.T) {
	data := func(s string) []byte { return unhex(t, s) }
	want := map[string]modbus.Frame{
		"11 03 00 6B 00 03 76 87": {Unit: 17, Function: modbus.ReadHolding,
			Kind: modbus.KindRequest, Register: 0x6B, Count: 3},
		"11 03 06 AE 41 56 52 43 40 49 AD": {Unit: 17, Function: modbus.ReadHolding,
			Kind: modbus.KindReply, Count: 3, Data: data("AE41 5652 4340")},
		"11 04 00 08 00 01 B2 98": {Unit: 17, Function: modbus.ReadInput,
			Kind: modbus.KindRequest, Register: 8, Count: 1},
		"11 04 02 00 0A F8 F4": {Unit: 17, Function: modbus.ReadInput,
			Kind: modbus.KindReply, Count: 1, Data: data("000A")},
		"11 06 00 01 00 03 9A 9B": {Unit: 17, Function: modbus.WriteOne,
			Kind: modbus.KindEither, Register: 1, Count: 1, Data: data("0003")},
		"11 10 00 01 00 02 04 00 0A 01 02 C6 F0": {Unit: 17, Function: modbus.WriteMultiple,
			Kind: modbus.KindRequest, Register: 1, Count: 2, Data: data("000A 0102")},
		"11 10 00 01 00 02 12 98": {Unit: 17, Function: modbus.WriteMultiple,
			Kind: modbus.KindReply, Register: 1, Count: 2},
		"0A 81 02 B0 53": {Unit: 10, Function: 1, Kind: modbus.KindException,
			Exception: modbus.IllegalAddress},
		"01 03 00 00 00 0A C5 CD": {Unit: 1, Function: modbus.ReadHolding,
			Kind: modbus.KindRequest, Count: 10},
		"01 03 00 00 00 02 C4 0B": {Unit: 1, Function: modbus.ReadHolding,
			Kind: modbus.KindRequest, Count: 2},
		"11 03 06 00 00 00 00 00 00 EC B5": {Unit: 17, Function: modbus.ReadHolding,
			Kind: modbus.KindReply, Count: 3, Data: data("0000 0000 0000")},
		"01 83 02 C0 F1": {Unit: 1, Function: modbus.ReadHolding, Kind: modbus.KindException,
			Exception: modbus.IllegalAddress},
		"01 04 00 00 00 02 71 CB": {Unit: 1, Function: modbus.ReadInput,
			Kind: modbus.KindRequest, Count: 2},
		"01 06 00 10 00 C8 89 99": {Unit: 1, Function: modbus.WriteOne,
			Kind: modbus.KindEither, Register: 16, Count: 1, Data: data("00C8")},
		"01 10 00 10 00 02 04 00 C8 00 3C 73 4C": {Unit: 1, Function: modbus.WriteMultiple,
			Kind: modbus.KindRequest, Register: 16, Count: 2, Data: data("00C8 003C")},
		"01 10 00 10 00 02 40 0D": {Unit: 1, Function: modbus.WriteMultiple,
			Kind: modbus.KindReply, Register: 16, Count: 2},
	}
	requests := 0
	for _, v := range vectors(t) {
		w, known := want[v.Frame]
		require.True(t, known, v.Frame)
		p := unhex(t, v.Frame)
		got, err := modbus.Decode(p)
		require.NoError(t, err, v.Frame)
		assert.Equal(t, w, got, "%s: %s", v.Frame, v.Meaning)
		assert.Zero(t, modbus.CRC(p))
		reads := w.Function == modbus.ReadHolding || w.Function == modbus.ReadInput
		if w.Kind == modbus.KindRequest && reads {
			requests++
			made, err := modbus.Request{Unit: w.Unit, Function: w.Function, Register: w.Register,
				Count: w.Count}.Append(nil)
			require.NoError(t, err)
			assert.Equal(t, p, made)
		}
	}
	assert.Equal(t, 5, requests)
}

// TestVectorReplies: the file's replies answer the file's requests.
func TestVectorReplies(t *testing.T) {
	for _, c := range []struct {
		req     modbus.Request
		reply   string
		outcome modbus.Outcome
		data    string
		refusal modbus.Exception
	}{
		{modbus.Request{Unit: 17, Function: modbus.ReadHolding, Register: 0x6B, Count: 3},
			"11 03 06 AE 41 56 52 43 40 49 AD", modbus.Good, "AE41 5652 4340", 0},
		{modbus.Request{Unit: 17, Function: modbus.ReadInput, Register: 8, Count: 1},
			"11 04 02 00 0A F8 F4", modbus.Good, "000A", 0},
		{modbus.Request{Unit: 1, Function: modbus.ReadHolding, Count: 2},
			"01 83 02 C0 F1", modbus.Refused, "", modbus.IllegalAddress},
		{modbus.Request{Unit: 1, Function: modbus.ReadHolding, Count: 3},
			"11 03 06 00 00 00 00 00 00 EC B5", modbus.OtherUnit, "", 0},
		{modbus.Request{Unit: 17, Function: modbus.ReadInput, Count: 3},
			"11 03 06 00 00 00 00 00 00 EC B5", modbus.OtherFunction, "", 0},
		{modbus.Request{Unit: 17, Function: modbus.ReadHolding, Count: 4},
			"11 03 06 00 00 00 00 00 00 EC B5", modbus.OtherCount, "", 0},
		{modbus.Request{Unit: 17, Function: modbus.ReadInput, Count: 1},
			"11 06 00 01 00 03 9A 9B", modbus.OtherFunction, "", 0},
		{modbus.Request{Unit: 17, Function: modbus.ReadInput, Count: 2},
			"11 06 00 01 00 03 9A 9B", modbus.OtherFunction, "", 0},
		{modbus.Request{Unit: 10, Function: modbus.ReadInput, Count: 2},
			"0A 81 02 B0 53", modbus.OtherFunction, "", 0},
	} {
		m := modbus.NewMaster(9600, 0, 0)
		_, err := m.Ask(0, c.req)
		require.NoError(t, err)
		got := m.Feed(time.Millisecond, unhex(t, c.reply))
		assert.Equal(t, c.outcome, got.Outcome, c.reply)
		assert.Equal(t, c.refusal, got.Exception)
		assert.Equal(t, c.data, strings.TrimSpace(spaced(got.Data)))
	}
}

func spaced(p []byte) string {
	var b strings.Builder
	for i := 0; i+1 < len(p); i += 2 {
		b.WriteString(strings.ToUpper(hex.EncodeToString(p[i:i+2])) + " ")
	}
	return b.String()
}

// TestExceptionNames: each code of the protocol has its own name.
func TestExceptionNames(t *testing.T) {
	names := map[string]bool{}
	for _, e := range []modbus.Exception{1, 2, 3, 4, 5, 6, 8, 0x0A, 0x0B} {
		assert.NotContains(t, e.String(), "unknown")
		names[e.String()] = true
	}
	assert.Len(t, names, 9)
	assert.Equal(t, "unknown exception 07", modbus.Exception(7).String())
	assert.Equal(t, "illegal function", modbus.IllegalFunction.String())
	assert.Equal(t, "illegal address", modbus.IllegalAddress.String())
}

// TestTimes: the serial guide's silences, V1.02 page 13 as cited in copies, to its two decimals.
func TestTimes(t *testing.T) {
	for _, c := range []struct {
		baud            int
		silence, inside string
	}{
		{9600, "4.01", "1.72"}, {19200, "2.01", "0.86"},
		{38400, "1.75", "0.75"}, {115200, "1.75", "0.75"},
	} {
		ms := func(d time.Duration) string {
			return strconv.FormatFloat(float64(d)/1e6, 'f', 2, 64)
		}
		assert.Equal(t, c.silence, ms(modbus.Silence(c.baud)))
		assert.Equal(t, c.inside, ms(modbus.Inside(c.baud)))
	}
	// 256 characters of 11 bits at 1200 baud are 2816 bits.
	assert.InDelta(t, 2816.0/1200, modbus.Transfer(1200, 256).Seconds(), 1e-6)
	assert.Zero(t, modbus.Transfer(0, 8))
	assert.Equal(t, 11, modbus.Expect(modbus.Request{Count: 3}))
}
