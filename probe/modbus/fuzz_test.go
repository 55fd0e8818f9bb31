package modbus_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe/modbus"
)

// FuzzDecode: whatever the bytes, no panic, and a frame has the bytes that it claims.
func FuzzDecode(f *testing.F) {
	for _, v := range vectors(f) {
		f.Add(unhex(f, v.Frame))
	}
	f.Fuzz(func(t *testing.T, p []byte) {
		fr, err := modbus.Decode(p)
		if err != nil {
			require.Zero(t, fr)
			return
		}
		require.Zero(t, modbus.CRC(p))
		require.Equal(t, p[0], fr.Unit)
		require.LessOrEqual(t, len(fr.Data), len(p)-4)
		if fr.Kind == modbus.KindRequest && len(fr.Data) == 0 {
			r := modbus.Request{Unit: fr.Unit, Function: fr.Function, Register: fr.Register,
				Count: fr.Count}
			if made, err := r.Append(nil); err == nil {
				require.Equal(t, p, made)
			}
		}
	})
}

// FuzzMaster: bytes whole and one by one give the same outcome, and a value is one whose reply
// stood there as bytes of the right length, unit, function and check.
func FuzzMaster(f *testing.F) {
	for _, v := range vectors(f) {
		p := unhex(f, v.Frame)
		f.Add(p[0], uint16(3), p, false)
		f.Add(p[0], uint16(1), p, true)
	}
	f.Fuzz(func(t *testing.T, unit byte, count uint16, p []byte, late bool) {
		r := modbus.Request{Unit: unit, Function: modbus.ReadHolding, Count: count}
		whole, one := modbus.NewMaster(9600, 0, 0), modbus.NewMaster(9600, 0, 0)
		if _, err := whole.Ask(0, r); err != nil {
			return
		}
		_, err := one.Ask(0, r)
		require.NoError(t, err)
		now := time.Millisecond
		if late {
			now = time.Minute
		}
		a := whole.Feed(now, p)
		if a.Outcome == modbus.Waiting {
			a = whole.Feed(time.Hour, nil)
		}
		var b modbus.Result
		for i := range p {
			if res := one.Feed(now, p[i:i+1]); res.Outcome != modbus.Waiting {
				b = res
			}
		}
		if b.Outcome == modbus.Waiting {
			b = one.Feed(time.Hour, nil)
		}
		if !late {
			require.Equal(t, a.Outcome, b.Outcome)
			require.Equal(t, a.Data, b.Data)
			require.Equal(t, whole.Stray(), one.Stray())
		}
		require.NotEqual(t, modbus.Waiting, a.Outcome)
		if a.Outcome == modbus.Good {
			require.False(t, late)
			n := modbus.Expect(r)
			fr, err := modbus.Decode(p[:n])
			require.NoError(t, err)
			require.Equal(t, modbus.KindReply, fr.Kind)
			require.Equal(t, []any{unit, modbus.ReadHolding, count}, []any{fr.Unit, fr.Function,
				fr.Count})
			require.Equal(t, fr.Data, a.Data)
		}
	})
}

// FuzzSlave: the module never panics, never says anything but frames of 03 and 04 or
// exceptions, and does not depend on how the bytes are split.
func FuzzSlave(f *testing.F) {
	for _, v := range vectors(f) {
		f.Add(unhex(f, v.Frame))
	}
	f.Fuzz(func(t *testing.T, p []byte) {
		if len(p) > 4096 {
			return
		}
		a, b := newSlave(), newSlave()
		out := a.Feed(p)
		var again []byte
		for i := range p {
			again = append(again, b.Feed(p[i:i+1])...)
		}
		require.Equal(t, out, again)
		for len(out) > 0 {
			n := 5
			if out[1]&0x80 == 0 {
				require.Contains(t, []byte{3, 4}, out[1])
				n += int(out[2])
			}
			_, err := modbus.Decode(out[:n])
			require.NoError(t, err)
			out = out[n:]
		}
	})
}

// FuzzValue: a number is finite and inside its range, whatever the registers.
func FuzzValue(f *testing.F) {
	f.Add(byte(5), byte(2), []byte{0x80, 0, 0x43, 0x8C})
	f.Add(byte(1), byte(1), []byte{7, 0x14})
	f.Fuzz(func(t *testing.T, kind, order byte, p []byte) {
		fm := modbus.Format{Type: modbus.Type(kind), Order: modbus.Order(order), Scale: 0.1,
			Low: -200, High: 1372}
		v, fault := fm.Value(p)
		if fault != modbus.FaultNone {
			require.Zero(t, v)
			require.NotEmpty(t, fault.String())
			return
		}
		require.True(t, v >= -200 && v <= 1372)
	})
}
