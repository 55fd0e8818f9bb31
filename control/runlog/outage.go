package runlog

import (
	"fmt"
	"strconv"
	"time"

	"strawline/control"
)

// Loss is a number of records that will never be in the file.
type Loss struct {
	Count int
	From  time.Duration // run time of the first of them
	To    time.Duration // and of the last
	Code  string        // "disk", "queue" or "refused"
	Why   string        // one clause for a person
}

// add counts another loss of the same kind into l.
func (l *Loss) add(count int, from, to time.Duration) {
	if l.Count == 0 {
		l.From = from
	}
	l.Count, l.From, l.To = l.Count+count, min(l.From, from), max(l.To, to)
}

// Event gives the loss as it stands in the run file.
func (l Loss) Event() control.Event {
	span := (l.To - l.From).Round(time.Millisecond).Seconds()
	records := "records"
	if l.Count == 1 {
		records = "record"
	}
	return control.Event{T: l.To, Kind: control.EvLost, Code: l.Code,
		Word: strconv.Itoa(l.Count), SpanS: &span,
		Text: fmt.Sprintf("%d %s of %g s lost: %s", l.Count, records, span, l.Why)}
}

// Lose records that l was lost before it came to the Writer.
func (w *Writer) Lose(l Loss) {
	w.lost += l.Count
	e := l.Event()
	fields, err := appendEvent(nil, &e)
	if err != nil {
		return // it stays counted in State
	}
	w.add(l.To, fields, false, l.Count) // a failing disk shows in State
}

// kept is a record that waits, encoded but for its number and its hash.
type kept struct {
	t      time.Duration
	fields []byte
	stands int // records it stands for: more than one if it tells of a loss
}

// keptCost is what a kept record takes in memory besides its fields: its place in the list,
// at most doubled while the list grows, and the allocator's rounding.
const keptCost = 128

// outage is the time since writing began to fail.
type outage struct {
	err     error // nil: writing works
	since   time.Duration
	tried   time.Duration
	kept    []kept
	bytes   int
	dropped Loss // what the memory had no room for
}

func (o *outage) begin(err error, t time.Duration) {
	*o = outage{err: err, since: t, tried: t}
	o.dropped.Code = "disk"
}

// keep holds fields back, and lets the oldest go when they are too old or too many.
func (w *Writer) keep(t time.Duration, fields []byte, stands int) {
	o := &w.out
	o.kept = append(o.kept, kept{t, append([]byte(nil), fields...), stands})
	o.bytes += len(fields) + keptCost
	drop := 0
	for drop < len(o.kept)-1 && (t-o.kept[drop].t > KeepSpan || o.bytes > keepBytes) {
		k := o.kept[drop]
		o.dropped.add(k.stands, k.t, k.t)
		w.lost += k.stands
		o.bytes -= len(k.fields) + keptCost
		o.kept[drop] = kept{}
		drop++
	}
	o.kept = o.kept[drop:] // append moves the rest to a new list when this one ends
}

// retry writes what waits, oldest first, a line about what was lost before it.
func (w *Writer) retry(t time.Duration) error {
	o := &w.out
	o.tried = t
	if o.dropped.Count > 0 {
		o.dropped.Why = "they could not be written: " + cause(o.err)
		e := o.dropped.Event()
		fields, err := appendEvent(nil, &e)
		if err == nil {
			err = w.put(fields)
		}
		if err != nil {
			o.err = err
			return w.failing()
		}
		o.dropped = Loss{Code: "disk"}
	}
	for i, k := range o.kept {
		if err := w.put(k.fields); err != nil {
			o.kept, o.err = o.kept[i:], err
			return w.failing()
		}
		o.bytes -= len(k.fields) + keptCost
		o.kept[i] = kept{}
	}
	w.out = outage{}
	w.maybeSync(t, true)
	return nil
}
