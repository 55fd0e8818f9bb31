package steel

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"strawline/probe/temp"
	"strawline/profiles"
)

// The limits of a file of a smith's own steels.
const (
	biggestFile = 256 << 10
	mostSteels  = 200
	mostWords   = 200 // characters of a source
	hottestHeat = temp.C(1300)
)

// Parse reads a smith's own steels and mill certificates from a TOML document; file is only for
// messages. An error is always a *Problem with line and column.
//
// The format, with every key:
//
//	[[steel]]
//	name = "1084-heat-7731"              # a-z A-Z 0-9 . and -, none of the built-in names
//	like = "1084"                        # optional: whose figures stand where none is given
//	source = "mill certificate of the bar" # where these figures come from
//	normalise = "1600F"                  # optional, and so is all that follows
//	harden = "1500F"
//	harden_range = ["1475F", "1525F"]
//	temper_range = ["350F", "450F"]
//	soak = "10m"                         # at the hardening heat
//	quench = "fast oil"
//	as_quenched = "66HRC"
//	[steel.composition]                  # percent by weight; C belongs to it
//	C = 0.86                             # and Mn, Si, Cr, Ni, Mo, V, W
func Parse(file string, data []byte) ([]Steel, error) {
	r := &reader{file: file, data: data}
	steels := r.steels()
	if r.bad != nil {
		return nil, r.bad
	}
	return steels, nil
}

// reader keeps the first problem; what is read after it is of no use.
type reader struct {
	file string
	data []byte
	bad  *Problem
}

// table is one table of the document with its place.
type table struct {
	r    *reader
	at   *where
	vals map[string]any
}

func (r *reader) fail(offset int, key, format string, args ...any) {
	if r.bad != nil {
		return
	}
	line, column := place(r.data, offset)
	r.bad = &Problem{File: r.file, Line: line, Column: column, Key: key,
		Text: fmt.Sprintf(format, args...)}
}

func (t table) fail(key, format string, args ...any) {
	t.r.fail(t.at.at(key).offset, key, format, args...)
}

func (r *reader) steels() []Steel {
	var vals map[string]any
	if len(r.data) > biggestFile {
		r.fail(0, "", "the file is larger than 256 KiB")
		return nil
	}
	if err := toml.Unmarshal(r.data, &vals); err != nil {
		offset := 0
		var de *toml.DecodeError
		if errors.As(err, &de) {
			offset = offsetOf(r.data, de)
		}
		r.fail(offset, "", "this is not TOML: %s", strings.TrimPrefix(err.Error(), "toml: "))
		return nil
	}
	root := table{r: r, at: locate(r.data), vals: vals}
	root.known("the file", "steel")
	list, is := vals["steel"].([]any)
	if !is || len(list) == 0 || len(list) > mostSteels {
		root.fail("steel", "1 to %d steels belong here, each under its own line [[steel]]",
			mostSteels)
		return nil
	}
	var steels []Steel
	for i, v := range list {
		at := root.at.at("steel").item(i)
		m, is := v.(map[string]any)
		if !is {
			r.fail(at.offset, "steel", "a steel belongs here: begin it with a line [[steel]]")
			return nil
		}
		s := table{r: r, at: at, vals: m}.steel()
		if _, twice := Find(s.Name, steels); twice && r.bad == nil {
			r.fail(at.at("name").offset, "name", "there is a steel %s already: give this one "+
				"another name", s.Name)
		}
		steels = append(steels, s)
	}
	return steels
}

// known complains of the first key that does not belong there.
func (t table) known(what string, keys ...string) {
	first := ""
	for k := range t.vals {
		if !slices.Contains(keys, k) &&
			(first == "" || t.at.at(k).offset < t.at.at(first).offset) {
			first = k
		}
	}
	if first != "" {
		t.fail(first, "unknown key: %s knows %s", what, strings.Join(keys, ", "))
	}
}

// steel reads one [[steel]].
func (t table) steel() Steel {
	t.known("a steel", "name", "like", "source", "normalise", "harden", "harden_range",
		"temper_range", "soak", "quench", "as_quenched", "composition")
	var s Steel
	if like := t.words("like"); like != "" {
		base, is := Find(like, nil)
		if !is {
			t.fail("like", "%q is none of the built-in steels", like)
		}
		s, s.Base = base, base.Name
	}
	s.Name = t.words("name")
	if s.Name == "" || len(s.Name) > 40 || strings.HasPrefix(s.Name, "-") || strings.Trim(s.Name,
		"abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.-") != "" {
		t.fail("name", `a steel needs a name of letters, digits, . and -, as name = "1084-bar-2"`)
	}
	yours := Origin{Source: t.words("source"), Provenance: "yours"}
	if yours.Source == "" {
		t.fail("source", `say where the figures come from, as source = "mill certificate 7731"`)
	}
	t.temps("normalise", "", &s.Normalise, yours)
	t.temps("harden", "harden_range", &s.Harden, yours)
	t.temps("", "temper_range", &s.Temper, yours)
	if t.has("temper_range") {
		s.Usual = Temps{}
	}
	if t.has("soak") {
		d, err := profiles.ParseSpan(t.words("soak"))
		if err != nil || d <= 0 || d > 24*time.Hour {
			t.fail("soak", "a soak is written as 10m and lasts above 0 and at most 24h")
		}
		s.Soak = Range{Low: d.Minutes(), High: d.Minutes(), Origin: yours}
	}
	if t.has("quench") {
		s.Quench = Quench{Medium: t.words("quench"), Origin: yours}
	}
	if t.has("as_quenched") {
		h, err := ParseHRC(t.words("as_quenched"))
		if err != nil {
			t.fail("as_quenched", "%v", err)
		}
		s.AsQuenched = Range{Low: h, High: h, Origin: yours}
	}
	t.composition(&s, yours)
	return s
}

func (t table) has(key string) bool {
	_, is := t.vals[key]
	return is
}

// words reads one line of text; "" if the key does not stand there.
func (t table) words(key string) string {
	v, is := t.vals[key]
	if !is {
		return ""
	}
	s, is := v.(string)
	if !is || !printable(s) || len([]rune(s)) > mostWords || strings.TrimSpace(s) == "" {
		t.fail(key, "one line of text in quotes belongs here, at most %d characters", mostWords)
		return ""
	}
	return strings.TrimSpace(s)
}

// degrees reads a temperature that somebody wrote for key.
func (t table) degrees(key string, v any) temp.C {
	s, is := v.(string)
	if !is {
		t.fail(key, `a temperature belongs here, in quotes with its unit, as "1500F"`)
		return 0
	}
	c, _, err := temp.Parse(s)
	switch {
	case err != nil:
		t.fail(key, "%v", err)
	case c < 20 || c > hottestHeat:
		t.fail(key, "%s is outside 20 °C to %s", s, hottestHeat.Text(temp.Celsius, 0))
	}
	return c
}

// temps reads a temperature and its range into to, which keeps what is not given.
func (t table) temps(key, span string, to *Temps, yours Origin) {
	given := Temps{Origin: yours}
	if t.has(key) {
		given.At = t.degrees(key, t.vals[key])
	}
	if t.has(span) {
		ends, is := t.vals[span].([]any)
		if !is || len(ends) != 2 {
			t.fail(span, `two temperatures belong here, as ["350F", "450F"]`)
			return
		}
		given.Low, given.High = t.degrees(span, ends[0]), t.degrees(span, ends[1])
		if given.Low >= given.High {
			t.fail(span, "the lower temperature stands first")
		}
		if given.At != 0 && (given.At < given.Low || given.At > given.High) {
			t.fail(key, "this is outside %s", span)
		}
	}
	if given.Known() {
		*to = given
	}
}

// composition reads the composition in percent by weight.
func (t table) composition(s *Steel, yours Origin) {
	v, is := t.vals["composition"]
	if !is {
		if s.Base == "" {
			t.fail("composition", "a steel that is like none of ours needs a composition")
		}
		return
	}
	m, is := v.(map[string]any)
	if !is {
		t.fail("composition", "a table belongs here: begin it with a line [steel.composition]")
		return
	}
	c := table{r: t.r, at: t.at.at("composition"), vals: m}
	c.known("a composition", "C", "Mn", "Si", "Cr", "Ni", "Mo", "V", "W")
	made := Composition{
		C: c.percent("C", 2.2), Mn: c.percent("Mn", 20), Si: c.percent("Si", 5),
		Cr: c.percent("Cr", 30), Ni: c.percent("Ni", 30), Mo: c.percent("Mo", 20),
		V: c.percent("V", 15), W: c.percent("W", 25),
	}
	if made.C <= 0 {
		c.fail("C", "the carbon is missing, as C = 0.86")
	}
	s.Makeup = Makeup{Typical: made, Least: made, Most: made, Origin: yours}
}

// percent reads a share from 0 to most; 0 if it does not stand there.
func (t table) percent(key string, most float64) float64 {
	v := 0.0
	switch n := t.vals[key].(type) {
	case nil:
		return 0
	case float64:
		v = n
	case int64:
		v = float64(n)
	default:
		t.fail(key, "percent by weight belong here, as 0.86")
		return 0
	}
	if math.IsNaN(v) || v < 0 || v > most {
		t.fail(key, "%g %% is outside 0 to %g", v, most)
	}
	return v
}
