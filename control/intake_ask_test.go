package control

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"strawline/probe"
	"strawline/probe/temp"
)

// rests has two minutes of a reading a second, each channel at its own temperature; below absolute
// zero stands for no reading.
func (d *desk) rests(at ...temp.C) {
	for range 120 {
		var rs []probe.Reading
		for i, c := range at {
			if c > -273 {
				rs = append(rs, of(i+1, hot(c)))
			}
		}
		d.step(time.Second, rs...)
	}
}

// wonders are the questions about a probe so far.
func (d *desk) wonders() []string {
	var out []string
	for _, s := range d.says(EvProbe) {
		if strings.Contains(s, "where") {
			out = append(out, s)
		}
	}
	return out
}

const absent temp.C = -300

// TestWhatStandsOutAtRestIsAskedOnce: 72 °C is 161.6 °F and 22 °C 71.6.
func TestWhatStandsOutAtRestIsAskedOnce(t *testing.T) {
	const q = "2 good: reads 161.6 °F where 71.6 °F is there: looks like °F"
	named := []string{"oven air", "case"}
	for _, c := range []struct {
		name     string
		channels []string
		at       []temp.C
		want     []string
	}{
		{"one stands out", named, []temp.C{22, 72}, []string{q}},
		{"none does", named, []temp.C{22, 23}, nil},
		{"an input that nobody named and that reads", []string{"oven air", ""}, []temp.C{22, 72},
			[]string{q}},
		{"an input without a probe holds nothing up", []string{"oven air", "case", ""},
			[]temp.C{22, 72, absent}, []string{q}},
		{"a named probe that does not read is waited for", []string{"oven air", "case", "blade 2"},
			[]temp.C{22, 72, absent}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := readerDesk(t, time.Second, c.channels...)
			d.rests(c.at...)
			assert.Equal(t, c.want, d.wonders())
			d.rests(c.at...)
			assert.Equal(t, c.want, d.wonders(), "once")
		})
	}
}

// TestAProbeThatIsWaitedForIsAskedAboutWhenItReads: the question comes late, and not never.
func TestAProbeThatIsWaitedForIsAskedAboutWhenItReads(t *testing.T) {
	d := readerDesk(t, time.Second, "oven air", "case")
	d.rests(22, absent)
	d.rests(22, 72)
	assert.Len(t, d.wonders(), 1)
}

// TestWhatIsHeatedIsNotWonderedAbout: apart is what an oven's air and its case then are.
func TestWhatIsHeatedIsNotWonderedAbout(t *testing.T) {
	d := newDesk(t, func(i *Info) { i.Shop.Channels = []string{"oven air", "case"} })
	d.rests(22, 72)
	assert.Empty(t, d.wonders())
}
