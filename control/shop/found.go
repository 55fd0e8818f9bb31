package shop

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"strawline/probe/temp"
)

// Entry is one thing that was found, with when and in what run.
type Entry[T any] struct {
	Of    string // the oven's, the probe's or the board's name
	Date  Date
	Run   string // the run's name; "" if it was found in none
	Value T
}

// FoundGains are gains and the rule that they came from.
type FoundGains struct {
	Gains
	Rule string // such as "SIMC"; "" if none is said
}

// Check is what a survey or a check of an oven against a reference said.
type Check struct {
	Against  string        // the reference: a probe's name or a person's words
	At       temp.C        // the heat at which it was made
	Offset   temp.Delta    // how far the oven's reading, corrected, was above the reference
	Swing    temp.Delta    // between the lowest and the highest while it stayed; 0 unknown
	Recovery time.Duration // after the door; 0 unknown
	Spread   temp.Delta    // between several probes; 0 unknown
}

// Wear is how much a probe was used since it was fitted; the entry's date is that of the last run.
type Wear struct {
	Warm time.Duration // above 30 °C
	Aged time.Duration // above 260 °C, where type K begins to change for good
	Peak temp.C
}

// Add gives the wear after a run with the wear more.
func (w Wear) Add(more Wear) Wear {
	return Wear{Warm: w.Warm + more.Warm, Aged: w.Aged + more.Aged, Peak: max(w.Peak, more.Peak)}
}

// Convection is what the model of a blade takes for an oven's air, from a run with a probe at
// the blade.
type Convection struct {
	W      float64 // W/(m² K)
	Within float64 // half width of its interval of 95 % confidence
}

// The convection that a file may give, W/(m² K).
const (
	leastConvection = 1.0
	mostConvection  = 100.0
)

// Fitted says that a probe was put in; the day is the entry's date.
type Fitted struct{}

// Found is what found.toml holds: of each kind the latest entry of each oven, probe or board, in
// the order of their names.
type Found struct {
	Models      []Entry[Model]
	Gains       []Entry[FoundGains]
	Corrections []Entry[Correction]
	Checks      []Entry[Check]
	Wears       []Entry[Wear]
	Fitted      []Entry[Fitted]
	Convections []Entry[Convection]

	// Of boards.
	ProofLimits  []Entry[Proof]
	ProofDeadMen []Entry[Proof]
	ProofCables  []Entry[Proof]
	ProofCutOuts []Entry[Proof]
	Lowered      []Entry[Lowered]
}

// Put gives the list with the entry in the place of an older one of the same name.
func Put[T any](list []Entry[T], e Entry[T]) []Entry[T] {
	i, there := slices.BinarySearchFunc(list, e.Of, func(o Entry[T], of string) int {
		return cmp.Compare(o.Of, of)
	})
	if there {
		list = slices.Clone(list)
		list[i] = e
		return list
	}
	return slices.Insert(slices.Clone(list), i, e)
}

// Drop gives the list without the entry of that name.
func Drop[T any](list []Entry[T], of string) []Entry[T] {
	return slices.DeleteFunc(slices.Clone(list), func(e Entry[T]) bool { return e.Of == of })
}

// Get gives the entry of that name, nil if there is none.
func Get[T any](list []Entry[T], of string) *Entry[T] {
	return find(list, func(e *Entry[T]) bool { return e.Of == of })
}

// schema is the version of found.toml that this program writes.
const schema = 1

// ParseFound reads found.toml; file is only for messages. The error is always a *Problem. A
// file of another schema is refused, so that a newer program's findings are not lost.
func ParseFound(file string, data []byte) (Found, error) {
	r := &reader{what: "found file", file: file, data: data}
	t := r.open()
	if v, ok := t.vals["schema"]; ok && v != int64(schema) {
		t.fail("schema", "this file was written by another version of the program, which calls "+
			"its schema %v; this one knows %d", v, schema)
	}
	t.known("a found file", "schema", "model", "gains", "correction", "check", "fitted", "wear",
		"convection", string(PartLimit), string(PartDeadMan), string(PartCable), string(PartCutOut),
		"lowered")
	t.need("a found file", "schema")
	var f Found
	f.Models = entries(t, "model", true, table.model, modelKeys()...)
	f.Gains = entries(t, "gains", true, func(t table) FoundGains {
		return FoundGains{t.gains(), t.words("rule", `"SIMC"`)}
	}, "kp", "ti", "td", "weight", "rule")
	f.Corrections = entries(t, "correction", false, table.correction,
		"offset", "point", "source")
	f.Checks = entries(t, "check", false, table.check,
		"against", "at", "offset", "swing", "recovery", "spread")
	f.Wears = entries(t, "wear", false, func(t table) Wear {
		t.need("a wear", "peak")
		w := Wear{Warm: t.span("warm", 0, mostWear), Aged: t.span("aged", 0, mostWear)}
		w.Peak, _, _ = t.tempIn("peak", Coldest, Hottest)
		return w
	}, "warm", "aged", "peak")
	f.Fitted = entries(t, "fitted", false, func(table) Fitted { return Fitted{} })
	f.Convections = entries(t, "convection", true, func(t table) Convection {
		t.need("a convection", "w_per_m2_k", "within")
		return Convection{W: t.number("w_per_m2_k", leastConvection, leastConvection, mostConvection),
			Within: t.number("within", 0, 0, mostConvection)}
	}, "w_per_m2_k", "within")
	for _, p := range Parts() {
		*f.Proofs(p) = entries(t, string(p), false, table.proof, proofKeys()...)
	}
	f.Lowered = entries(t, "lowered", false, table.lowered,
		"port", "board", "to", "limit", "guard", "window", "mains")
	if err := r.err(); err != nil {
		return Found{}, err
	}
	return f, nil
}

// entries reads the list under a key, each with its name, its date and, where it must come from
// one, its run.
func entries[T any](t table, key string, ofRun bool, read func(table) T, keys ...string,
) (out []Entry[T]) {
	keys = append([]string{"of", "date", "run"}, keys...)
	for _, e := range t.tables(key, "begin each with a line [["+key+"]]") {
		e.known("an entry under "+key, keys...)
		e.need("an entry under "+key, "of", "date")
		if ofRun {
			e.need("an entry under "+key, "run")
		}
		n := Entry[T]{
			Of:    e.name("of", "kiln"),
			Date:  e.date("date"),
			Run:   e.words("run", `"2026-11-25-knife"`),
			Value: read(e),
		}
		if Get(out, n.Of) != nil {
			e.fail("of", "there is an entry of %q under %s already", n.Of, key)
		}
		out = Put(out, n)
	}
	return out
}

// mostWear is more than ten years of days and nights.
const mostWear = 100000 * time.Hour

// The most that a check can say; an oven further off is not one that was checked.
const maxCheck = temp.Delta(500)

func (t table) check() Check {
	t.need("a check", "against", "at", "offset")
	c := Check{
		Against:  t.words("against", `"reference"`),
		Offset:   t.deltaIn("offset", -maxCheck, maxCheck),
		Swing:    t.deltaIn("swing", 0, maxCheck),
		Recovery: t.span("recovery", 0, maxTime),
		Spread:   t.deltaIn("spread", 0, maxCheck),
	}
	c.At, _, _ = t.tempIn("at", Coldest, Hottest)
	return c
}

// CheckWords says when an oven was last checked and how far off it was, as of today:
// "last check 12 days ago, +1.4 °C". A nil entry is "never checked".
func CheckWords(e *Entry[Check], today Date, u temp.Unit) string {
	if e == nil {
		return "never checked"
	}
	off := e.Value.Offset.Text(u, 1)
	switch n := today.Since(e.Date); {
	case n < 0:
		return fmt.Sprintf("last check dated %v, which is after today, %s", e.Date, off)
	case n == 0:
		return "last check today, " + off
	case n == 1:
		return "last check 1 day ago, " + off
	default:
		return fmt.Sprintf("last check %d days ago, %s", n, off)
	}
}
