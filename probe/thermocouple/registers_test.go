package thermocouple

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/probe"
	"strawline/probe/temp"
)

func TestMAX6675Faults(t *testing.T) {
	for word, want := range map[uint16]probe.Fault{
		0: probe.FaultNoChip, 1: probe.FaultNoChip, 0xFFFF: probe.FaultNoChip,
		0x8320: probe.FaultNoChip, 0x0322: probe.FaultNoChip, 0x0324: probe.FaultOpen,
		0x0004: probe.FaultOpen, 0x7FFC: probe.FaultOpen, 0x7FF8: probe.FaultRange,
		0x7FF9: probe.FaultRange, 0x7FF0: probe.FaultNone, 0x0321: probe.FaultNone,
	} {
		assert.Equal(t, want, MAX6675(word, 25).Fault, "%04X", word)
	}
	for _, cold := range []temp.C{-41, 126, temp.C(math.NaN())} {
		assert.Equal(t, failed(probe.FaultColdJunction), MAX6675(0x0320, cold))
	}
	assert.Equal(t, probe.FaultNoChip, Read("MAX6675", 0x00010320).Fault, "more than 16 bits")
	assert.Equal(t, probe.FaultNoChip, Read("MAX6675K", 0x0320).Fault, "the name has no letter")
}

func TestMAX31856Faults(t *testing.T) {
	const good = 0x190000 // 400 °C
	for status, want := range map[uint8]probe.Fault{
		0: probe.FaultNone, 1: probe.FaultOpen, 2: probe.FaultRange, 4: probe.FaultRange,
		8: probe.FaultRange, 0x10: probe.FaultColdJunction, 0x20: probe.FaultColdJunction,
		0x40: probe.FaultRange, 0x80: probe.FaultColdJunction, 0x41: probe.FaultOpen,
		0x0C: probe.FaultNoChip, 0x30: probe.FaultNoChip, 0xFF: probe.FaultNoChip,
	} {
		assert.Equal(t, want, MAX31856(K, good, status).Fault, "%02X", status)
	}
	hot, cold, fault := Decode("MAX31856K", good<<8)
	assert.Equal(t, []any{temp.C(400), AssumedCold, probe.FaultNone}, []any{hot, cold, fault})
	assert.Equal(t, probe.FaultNoChip, Read("MAX31856K", 0).Fault)
	assert.Equal(t, probe.FaultNoChip, Read("MAX31856K", 0xFFFFFFFF).Fault)
	assert.Equal(t, probe.FaultOpen, Read("MAX31856K", 1).Fault)
	assert.Equal(t, temp.C(-0.0078125), MAX31856(K, 0xFFFFFF, 0).Hot)
	assert.Equal(t, probe.FaultNoChip, MAX31856(0, good, 0).Fault)
	for word, want := range map[uint16]float64{0x1900: 25, 0xFF00: -1, 0x0004: 1.0 / 64,
		0x0007: 1.0 / 64, 0x7D00: 125, 0xD800: -40, 0: 0} {
		c, fault := ColdMAX31856(word)
		assert.Equal(t, probe.FaultNone, fault)
		assert.Equal(t, want, float64(c), "%04X", word)
	}
	for _, word := range []uint16{0x7D04, 0xD7FC, 0x7FFF, 0x8000} {
		_, fault := ColdMAX31856(word)
		assert.Equal(t, probe.FaultColdJunction, fault, "%04X", word)
	}
}

func TestMCP9600Faults(t *testing.T) {
	for _, c := range []struct {
		hot, cold uint16
		status    uint8
		want      probe.Fault
	}{
		{0x0C80, 0x0190, 0, probe.FaultNone}, {0x0C80, 0x0190, 0xC0, probe.FaultNone},
		{0x0C80, 0x0190, 0x0F, probe.FaultNone}, {0x0C80, 0x0190, 0x10, probe.FaultRange},
		{0x0C80, 0x0190, 0x20, probe.FaultRange}, {0, 0, 0, probe.FaultNoChip},
		{0xFFFF, 0xFFFF, 0xFF, probe.FaultNoChip}, {0, 0x0190, 0, probe.FaultNone},
		{0x7FFF, 0x0190, 0, probe.FaultRange}, {0x0C80, 0x07D1, 0, probe.FaultColdJunction},
		{0x0C80, 0x07D0, 0, probe.FaultNone}, {0x0C80, 0xFD80, 0, probe.FaultNone},
		{0x0C80, 0xFD7F, 0, probe.FaultColdJunction},
	} {
		assert.Equal(t, c.want, MCP9600(K, c.hot, c.cold, c.status).Fault, "%+v", c)
	}
	assert.Equal(t, probe.FaultNoChip, MCP9600(0, 0x0C80, 0x0190, 0).Fault)
	assert.Equal(t, probe.FaultNoChip, HotMCP9600(0, 0x0C80, 0).Fault)
	assert.Equal(t, probe.FaultNoChip, HotMCP9600(K, 0, 0).Fault)
	assert.Equal(t, probe.FaultNoChip, HotMCP9600(K, 0xFFFF, 0).Fault)
	assert.Equal(t, probe.FaultRange, HotMCP9600(K, 0x0C80, 0x10).Fault)
	assert.Equal(t, Measure{Hot: 815.25, Own: 815.25}, HotMCP9600(K, 0x32F4, 0))
	assert.Equal(t, probe.FaultNoChip, EMFMCP9600(K, 0, 0).Fault)
	assert.Equal(t, probe.FaultNoChip, EMFMCP9600(K, 0xFFFFFF, 0xFFFF).Fault)
	assert.Equal(t, probe.FaultColdJunction, EMFMCP9600(K, 0x000DF1, 0x07D1).Fault)
	assert.Equal(t, probe.FaultRange, EMFMCP9600(K, 0x7FFFFF, 0x0190).Fault)
	assert.InDelta(t, 200.0, float64(EMFMCP9600(K, 0x000DF1, 0x0190).Hot), 0.02)
	assert.InDelta(t, 25-0.002/0.0405, float64(EMFMCP9600(K, 0xFFFFFF, 0x0190).Hot), 0.001)
}

func TestADS1118Faults(t *testing.T) {
	for _, c := range []struct {
		emf, sensor uint16
		want        probe.Fault
	}{
		{0x0392, 0x0C80, probe.FaultNone}, {0xFFFF, 0x0C80, probe.FaultNone},
		{0, 0x0C80, probe.FaultNone}, {0, 0, probe.FaultNoChip},
		{0xFFFF, 0xFFFF, probe.FaultNoChip}, {0x7FFF, 0x0C80, probe.FaultRange},
		{0x8000, 0x0C80, probe.FaultRange}, {0x2000, 0x0C80, probe.FaultRange},
		{0x0392, 0x3E80, probe.FaultNone}, {0x0392, 0x3E84, probe.FaultColdJunction},
		{0x0392, 0xEC00, probe.FaultNone}, {0x0392, 0xEBFC, probe.FaultColdJunction},
	} {
		assert.Equal(t, c.want, ADS1118(K, c.emf, c.sensor).Fault, "%+v", c)
	}
	assert.Equal(t, probe.FaultNoChip, ADS1118(0, 0x0392, 0x0C80).Fault)
	assert.Equal(t, probe.FaultColdJunction, ADS1118(B, 0x0392, 0xFFFC).Fault,
		"type B has no emf below 0 °C")
	for _, end := range []uint16{0x7FFF, 0x8000} {
		mV, fault := EMFADS1118(end)
		assert.Equal(t, probe.FaultRange, fault)
		assert.Zero(t, mV)
	}
	// -210 °C, which type K has an emf for and the chips are not made for.
	e, err := K.Across(-210, 25)
	require.NoError(t, err)
	cold := uint16(int16(math.Round(e * 1000 / 7.8125)))
	assert.Equal(t, probe.FaultRange, ADS1118(K, cold, 0x0C80).Fault)
	assert.Equal(t, probe.FaultRange, MAX31855(K, said(t, K, 41.276, -210, 25)).Fault)
	alone := ADS1118At(K, 0x0392, 25)
	assert.Equal(t, ADS1118(K, 0x0392, 0x0C80).Hot, alone.Hot)
	assert.False(t, alone.HasCold)
	assert.Equal(t, probe.FaultNoChip, ADS1118At(0, 0x0392, 25).Fault)
	assert.Equal(t, probe.FaultRange, ADS1118At(K, 0x8000, 25).Fault)
	assert.Equal(t, probe.FaultColdJunction, ADS1118At(K, 0x0392, -40.1).Fault)
}

// What an ADS1118 says of a true temperature comes back within half a count of each type.
func TestADS1118AndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.SampledFrom(Types()).Draw(t, "type")
		hot := rapid.Float64Range(curves[k].coldest+5, curves[k].hottest-5).Draw(t, "hot")
		cold := float64(rapid.IntRange(1, 60*32).Draw(t, "cold")) / 32
		mV, err := k.Across(temp.C(hot), temp.C(cold))
		require.NoError(t, err)
		emf := uint16(int16(math.Round(mV * 1000 / 7.8125)))
		m := Read("ADS1118"+k.String(), uint32(emf)<<16|uint32(uint16(cold*32)<<2))
		require.Equal(t, probe.FaultNone, m.Fault)
		require.Equal(t, cold, float64(m.Cold))
		back, err := k.Across(m.Hot, m.Cold)
		require.NoError(t, err)
		require.InDelta(t, mV, back, 0.0078125/2+1e-7)
	})
}

func TestChipNames(t *testing.T) {
	names := ChipNames()
	assert.Len(t, names, 7+1+3*8)
	for _, n := range names {
		c, k, ok := SplitChip(n)
		require.True(t, ok, n)
		assert.Equal(t, n, c.Name(k))
		assert.Equal(t, c != ChipMAX6675 && c != ChipMAX31856, SaysCold(n))
	}
	for _, n := range []string{"", "MAX31855", "MAX31855B", "MAX31855KK", "max31855k", "MAX6675K",
		"ADS1118", "ADS1118X", "MCP9600?", "MAX31855?"} {
		_, _, ok := SplitChip(n)
		assert.False(t, ok, n)
		assert.False(t, SaysCold(n))
		assert.Equal(t, failed(probe.FaultNoChip), Read(n, 0x0C601900), n)
	}
	assert.False(t, Chip("MAX31865").Takes(K))
	assert.False(t, ChipMAX6675.Takes(N))
	assert.False(t, ChipADS1118.Takes(0))
}

// The figures of the doc comments: the emf of 7.1406 mV is 200.06 °C by the worked word of the
// MAX31855K, which has the same emf and cold junction.
func TestWorkedRegisters(t *testing.T) {
	assert.InDelta(t, 200.06, float64(ADS1118(K, 0x0392, 0x0C80).Hot), 0.005)
	mV, fault := EMFADS1118(0x0392)
	assert.Equal(t, probe.FaultNone, fault)
	assert.InDelta(t, 914*0.0078125, mV, 1e-12)
	mV, fault = EMFADS1118(0xFFFE)
	assert.Equal(t, probe.FaultNone, fault)
	assert.InDelta(t, -0.015625, mV, 1e-12)
	// 0.041·(199 - 25) mV is 0.0043 mV less than 200 °C gives against 25 °C, at 39.97 µV/°C.
	assert.InDelta(t, 200-0.0043/0.03997, float64(MAX6675(0x18E0, 25).Hot), 0.005)
}

// sound says what is wrong with a Measure that some word gave.
func sound(t *testing.T, k Type, m Measure) {
	t.Helper()
	if m.Fault != probe.FaultNone {
		if m != failed(m.Fault) {
			t.Fatalf("a fault beside figures: %+v", m)
		}
		return
	}
	c := curves[k]
	if h := float64(m.Hot); !(h >= c.coldest && h <= c.hottest) {
		t.Fatalf("type %s: %+v", k, m)
	}
	if cold := float64(m.Cold); !(cold >= -40 && cold <= 125) || !m.HasCold && cold != 0 {
		t.Fatalf("type %s: %+v", k, m)
	}
}

func FuzzMAX6675(f *testing.F) {
	f.Add(uint16(0x18E0), 25.0)
	f.Fuzz(func(t *testing.T, word uint16, cold float64) {
		m := MAX6675(word, temp.C(cold))
		sound(t, K, m)
		if m.Fault != probe.FaultNone {
			return
		}
		mV, err := K.Across(m.Hot, temp.C(cold))
		if err != nil || math.Abs(mV-0.041*(float64(word>>3)/4-cold)) > 1e-7 {
			t.Fatalf("%04X at %g °C: %+v is %g mV, %v", word, cold, m, mV, err)
		}
	})
}

func FuzzMAX31856(f *testing.F) {
	f.Add(uint32(0x064F00), uint16(0x1900), uint8(0))
	f.Fuzz(func(t *testing.T, hot uint32, cold uint16, status uint8) {
		for _, k := range Types() {
			m := MAX31856(k, hot, status)
			sound(t, k, m)
			if m.Fault == probe.FaultNone {
				back := uint32(int32(math.Round(float64(m.Hot)*128))<<5) & 0xFFFFFF
				if status != 0 || back != hot&0xFFFFE0 {
					t.Fatalf("%08X, %02X: %+v comes back as %06X", hot, status, m, back)
				}
			}
		}
		if c, fault := ColdMAX31856(cold); fault == probe.FaultNone &&
			uint16(int16(float64(c)*64))<<2 != cold&^3 {
			t.Fatalf("%04X: %g °C", cold, c)
		}
	})
}

func FuzzMCP9600(f *testing.F) {
	f.Add(uint16(0x0C80), uint16(0x0190), uint8(0), uint32(0x000DF1))
	f.Fuzz(func(t *testing.T, hot, cold uint16, status uint8, raw uint32) {
		for _, k := range Types() {
			m := MCP9600(k, hot, cold, status)
			sound(t, k, m)
			if m.Fault == probe.FaultNone && (uint16(int16(m.Hot*16)) != hot ||
				uint16(int16(m.Cold*16)) != cold || status&0x30 != 0) {
				t.Fatalf("%04X %04X %02X: %+v", hot, cold, status, m)
			}
			e := EMFMCP9600(k, raw, cold)
			sound(t, k, e)
			if e.Fault != probe.FaultNone {
				continue
			}
			mV, err := k.Across(e.Hot, e.Cold)
			if err != nil || math.Abs(mV-float64(int32(raw<<8)>>8)/500) > 1e-7 {
				t.Fatalf("%06X %04X: %+v is %g mV, %v", raw, cold, e, mV, err)
			}
		}
	})
}

func FuzzADS1118(f *testing.F) {
	f.Add(uint16(0x0392), uint16(0x0C80))
	f.Fuzz(func(t *testing.T, emf, sensor uint16) {
		for _, k := range Types() {
			m := ADS1118(k, emf, sensor)
			sound(t, k, m)
			if m.Fault != probe.FaultNone {
				continue
			}
			mV, err := k.Across(m.Hot, m.Cold)
			if err != nil || math.Abs(mV*1000/7.8125-float64(int16(emf))) > 1e-5 {
				t.Fatalf("%04X %04X: %+v is %g mV, %v", emf, sensor, m, mV, err)
			}
		}
	})
}
