package port

import (
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/probe/lines"
	"strawline/probe/modbus"
	"strawline/probe/temp"
)

// cable is a stream whose other end is a function: what the host writes goes in, what it reads
// was put there by the test. A Read without bytes is a time-out.
type cable struct {
	toHost []byte
	hear   func(p []byte) []byte
	wrote  []byte
	gone   error
}

func (c *cable) Read(p []byte) (int, error) {
	if c.gone != nil {
		return 0, c.gone
	}
	n := copy(p, c.toHost)
	c.toHost = c.toHost[n:]
	return n, nil
}

func (c *cable) Write(p []byte) (int, error) {
	c.wrote = append(c.wrote, p...)
	if c.hear != nil {
		c.toHost = append(c.toHost, c.hear(p)...)
	}
	return len(p), nil
}

func (c *cable) SetReadTimeout(time.Duration) error { return nil }
func (c *cable) ResetInputBuffer() error            { return nil }
func (c *cable) Close() error                       { return nil }

// otherRig polls a port on a cable, 50 ms a time.
type otherRig struct {
	*cable
	p        *Port
	now      time.Duration
	readings []probe.Reading
	notes    []string
	boots    int
	link     probe.Link
}

func newOtherRig(cfg Config) *otherRig {
	r := &otherRig{cable: &cable{}}
	r.p = New(cfg, func() (Stream, error) { return r.cable, nil })
	return r
}

func (r *otherRig) run(d time.Duration) {
	for end := r.now + d; r.now < end; r.now += 50 * time.Millisecond {
		b := r.p.Poll(r.now)
		r.readings = append(r.readings, b.Readings...)
		r.notes = append(r.notes, b.Notes...)
		r.boots += len(b.Boots)
		r.link = b.Link
		r.p.Command(r.now, 1000) // whatever the caller wants: nothing may go out
		r.p.ResetLatches(r.now)
	}
}

func TestASketchIsReadAndNothingIsEverSentToIt(t *testing.T) {
	r := newOtherRig(Config{Sketch: &Sketch{}})
	r.run(200 * time.Millisecond)
	require.Equal(t, probe.LinkWaiting, r.link.State)
	for i := range 40 { // two lines a second
		r.toHost = append(r.toHost, fmt.Sprintf("C = %.2f\r\nF = %.2f\r\n",
			180+0.25*float64(i), temp.C(180+0.25*float64(i)).F())...)
		r.run(500 * time.Millisecond)
	}
	require.Equal(t, probe.LinkUp, r.link.State)
	require.False(t, r.link.Heats)
	require.NotEmpty(t, r.readings)
	last := r.readings[len(r.readings)-1]
	require.InDelta(t, 189.75, float64(last.Hot), 0.5)
	require.Equal(t, float32(last.Hot), math.Float32frombits(last.Raw))
	require.False(t, last.HasCold)
	require.InDelta(t, 0.5, r.link.Interval.Seconds(), 0.06)
	u, ok := r.p.Understood()
	require.True(t, ok, "%v", u.Questions)
	require.Contains(t, u.Sentence, "channel 1")
	require.Empty(t, r.wrote)

	r.run(1500 * time.Millisecond)
	require.Equal(t, probe.LinkSilent, r.link.State, "three of its own intervals")
	require.Empty(t, r.wrote)
}

func TestARawWordIsDecodedOnlyWhereTheChipIsNamed(t *testing.T) {
	say := func(r *otherRig) {
		for range 20 {
			r.toHost = append(r.toHost, "0x0C601900\r\n"...)
			r.run(500 * time.Millisecond)
		}
	}
	r := newOtherRig(Config{Sketch: &Sketch{}})
	say(r)
	require.Empty(t, r.readings)

	r = newOtherRig(Config{Sketch: &Sketch{Hint: lines.Hint{Chip: "MAX31855K"}}})
	say(r)
	require.NotEmpty(t, r.readings)
	last := r.readings[len(r.readings)-1]
	require.InDelta(t, 200.06, float64(last.Hot), 0.01, "the worked word of the chip's notes")
	require.InDelta(t, 25, float64(last.Cold), 0.01)
	require.True(t, last.HasCold)
	require.Equal(t, uint32(0x0C601900), last.Raw)
}

func moduleConfig() Config {
	f := modbus.Format{Type: modbus.Int16, Order: modbus.ABCD, Scale: 0.1, Low: -50, High: 1300}
	return Config{Modules: &Modules{Baud: 9600, Channels: []Module{
		{Unit: 17, Function: modbus.ReadInput, Register: 8, Format: f},
		{Unit: 17, Function: modbus.ReadHolding, Register: 2, Format: f, In: temp.Fahrenheit}}}}
}

func TestModulesAreAskedInTurn(t *testing.T) {
	slave := &modbus.Slave{Unit: 17, Input: make([]uint16, 16), Holding: make([]uint16, 16)}
	slave.Input[8], slave.Holding[2] = 2044, 3920
	r := newOtherRig(moduleConfig())
	r.hear = slave.Feed
	r.run(5 * time.Second)
	require.Equal(t, probe.LinkUp, r.link.State)
	require.Equal(t, time.Second, r.link.Interval)
	require.InDelta(t, 10, len(r.readings), 2, "two channels once a second")
	var ch [3]temp.C
	for _, x := range r.readings {
		ch[x.Channel] = x.Hot
	}
	require.InDelta(t, 204.4, float64(ch[1]), 1e-9)
	require.InDelta(t, 200, float64(ch[2]), 1e-9)
	for i := 0; i < len(r.wrote); i += 8 {
		require.Contains(t, []byte{3, 4}, r.wrote[i+1], "only ever read")
	}
}

func TestWhatAModuleDoesWrongIsToldApart(t *testing.T) {
	for _, c := range []struct {
		mode modbus.Mode
		want string
	}{
		{modbus.StaysQuiet, "no answer"}, {modbus.CutsShort, "short answer"},
		{modbus.SpoilsCRC, "wrong check"}, {modbus.Poses, "another unit"},
		{modbus.Wanders, "another function"},
	} {
		slave := &modbus.Slave{Unit: 17, Input: make([]uint16, 16), Holding: make([]uint16, 16),
			Mode: c.mode}
		r := newOtherRig(moduleConfig())
		r.hear = slave.Feed
		r.run(4 * time.Second)
		require.Empty(t, r.readings, c.want)
		require.NotEmpty(t, r.notes)
		require.Contains(t, r.notes[0], c.want)
		require.NotEqual(t, probe.LinkUp, r.link.State)
	}
	slave := &modbus.Slave{Unit: 17, Input: make([]uint16, 16), Holding: make([]uint16, 16),
		Mode: modbus.Refuses, Refusal: modbus.DeviceFailure}
	r := newOtherRig(moduleConfig())
	r.hear = slave.Feed
	r.run(3 * time.Second)
	require.NotEmpty(t, r.readings)
	require.Equal(t, probe.FaultNoChip, r.readings[0].Fault)
}
