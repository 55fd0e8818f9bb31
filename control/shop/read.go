package shop

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"strawline/probe/temp"
)

// biggestFile is far above any shop; it bounds what a wrong file can cost.
const biggestFile = 256 << 10

// reader keeps the first problem; everything after it reads as absent.
type reader struct {
	what string
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

// open checks that data is TOML and gives its outermost table.
func (r *reader) open() table {
	r.data = bytes.TrimPrefix(r.data, []byte("\xef\xbb\xbf")) // as some editors write it
	t := table{r: r, at: &where{}}
	if len(r.data) > biggestFile {
		r.fail(t.at, "", "the file is larger than 256 KiB, which no shop is")
		return t
	}
	if err := toml.Unmarshal(r.data, &t.vals); err != nil {
		var de *toml.DecodeError
		w := &where{}
		if errors.As(err, &de) {
			line, column := de.Position()
			w.offset = offsetOf(r.data, line, column)
		}
		r.fail(w, "", tomlText(err))
		return t
	}
	t.at = locate(r.data)
	return t
}

// tomlText says in a person's words what the TOML library found.
func tomlText(err error) string {
	m := strings.TrimPrefix(err.Error(), "toml: ")
	switch {
	case strings.HasPrefix(m, "expected newline but got"),
		strings.HasPrefix(m, "strings must be quoted"),
		strings.HasSuffix(m, "at start of value"):
		return `text, temperatures and spans stand in quotes, as "400F" or "2h", and nothing ` +
			`follows them on the line`
	case strings.Contains(m, "strings cannot have new lines"),
		strings.HasPrefix(m, "unterminated"):
		return "the closing quote of this text is missing"
	case strings.Contains(m, "already"):
		return "this stands in the file twice: keep one of them"
	case strings.Contains(m, "store"), strings.Contains(m, "decode"):
		return "this key is both a value and a table: keep one of them"
	}
	return "this is not TOML: " + m + `; a line reads key = "value"`
}

func (r *reader) fail(w *where, key, text string) {
	if r.bad != nil {
		return
	}
	line, column := place(r.data, w.offset)
	r.bad = &Problem{What: r.what, File: r.file, Line: line, Column: column, Key: key, Text: text}
}

// err gives the first problem, nil if there is none.
func (r *reader) err() error {
	if r.bad == nil {
		return nil
	}
	return r.bad
}

// known complains of the first key that is not in the list.
func (t table) known(what string, keys ...string) {
	first := ""
	for k := range t.vals {
		if !slices.Contains(keys, k) &&
			(first == "" || t.at.at(k).offset < t.at.at(first).offset) {
			first = k
		}
	}
	if first != "" {
		t.fail(first, "unknown key: %s knows %s", what, list(keys))
	}
}

// need complains of the first key that does not stand there.
func (t table) need(what string, keys ...string) {
	for _, k := range keys {
		if !t.has(k) {
			t.r.fail(t.at, "", what+" needs a line "+k+" = ...")
		}
	}
}

// list joins words: "a, b and c".
func list(words []string) string {
	n := len(words)
	if n < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:n-1], ", ") + " and " + words[n-1]
}

func (t table) has(key string) bool {
	_, ok := t.vals[key]
	return ok
}

func (t table) fail(key, format string, args ...any) {
	t.r.fail(t.at.at(key), key, fmt.Sprintf(format, args...))
}

// text reads a string that is to be written as in the example.
func (t table) text(key, example string) (string, bool) {
	v, ok := t.vals[key]
	if !ok || t.r.bad != nil {
		return "", false
	}
	s, ok := v.(string)
	if ok {
		return s, true
	}
	what := kindOf(v)
	if strings.HasPrefix(what, "the number") && strings.ContainsAny(example, "0123456789") {
		t.fail(key, "%s without a unit: write it in quotes with its unit, as %s", what, example)
	} else {
		t.fail(key, "%s, but text belongs here: write it in quotes, as %s", what, example)
	}
	return "", false
}

const mostWords = 200 // characters of a line of text

// words reads one line of text for a person, "" if the key does not stand there.
func (t table) words(key, example string) string {
	s, ok := t.text(key, example)
	if ok && (s == "" || !printable(s) || len([]rune(s)) > mostWords) {
		t.fail(key, "one line of 1 to %d characters belongs here, as %s", mostWords, example)
		return ""
	}
	return s
}

// name reads a name of a thing.
func (t table) name(key, example string) string {
	s, ok := t.text(key, `"`+example+`"`)
	if ok && !isName(s) {
		t.fail(key, "%q is no name: use a-z, 0-9 and -, at most 40, as %s", s, example)
	}
	return s
}

// LongestName is how many characters a name of an oven, a probe or a board may have.
const LongestName = 40

func isName(s string) bool {
	return s != "" && len(s) <= LongestName &&
		strings.Trim(s, "abcdefghijklmnopqrstuvwxyz0123456789-") == ""
}

// one reads one of several words; without the key it gives unless.
func (t table) one(key, unless string, choices ...string) string {
	s, ok := t.text(key, `"`+choices[0]+`"`)
	if !ok {
		return unless
	}
	if !slices.Contains(choices, s) {
		t.fail(key, "%q is unknown here: write one of %s", s, list(choices))
		return unless
	}
	return s
}

// unit reads a unit of temperature.
func (t table) unit(key string) (temp.Unit, bool) {
	s := t.one(key, "", "C", "F", "°C", "°F")
	if strings.HasSuffix(s, "F") {
		return temp.Fahrenheit, true
	}
	return temp.Celsius, s != ""
}

func (t table) temp(key string) (temp.C, temp.Unit, bool) {
	s, ok := t.text(key, `"400F" or "204C"`)
	if !ok {
		return 0, 0, false
	}
	c, u, err := temp.Parse(s)
	if err != nil {
		t.fail(key, "%v", err)
	}
	return c, u, err == nil
}

// tempIn reads a temperature that is to be inside low and high.
func (t table) tempIn(key string, low, high temp.C) (temp.C, temp.Unit, bool) {
	c, u, ok := t.temp(key)
	if ok && !(c >= low && c <= high) {
		t.fail(key, "%s is outside %s to %s", show(c, u), show(low, u), show(high, u))
	}
	return c, u, ok
}

func show(c temp.C, u temp.Unit) string { return c.Text(u, 0) }

func (t table) delta(key string) (temp.Delta, temp.Unit, bool) {
	s, ok := t.text(key, `"10F" or "5C"`)
	if !ok {
		return 0, 0, false
	}
	d, u, err := temp.ParseDelta(s)
	if err != nil {
		t.fail(key, "%q is no difference of temperature: write it with its unit, as 10F or 5C", s)
	}
	return d, u, err == nil
}

// deltaIn reads a difference from low to high; 0 if the key does not stand there.
func (t table) deltaIn(key string, low, high temp.Delta) temp.Delta {
	d, u, ok := t.delta(key)
	if ok && !(d >= low && d <= high) {
		t.fail(key, "%s is outside %s to %s", d.Text(u, 1), low.Text(u, 1), high.Text(u, 1))
	}
	return d
}

// span reads a span from low to high; 0 if the key does not stand there.
func (t table) span(key string, low, high time.Duration) (d time.Duration) {
	s, ok := t.text(key, `"2h" or "90s"`)
	if !ok {
		return 0
	}
	d, err := parseSpan(s)
	if err != nil {
		t.fail(key, "%v", err)
	} else if d < low || d > high {
		t.fail(key, "%s is outside %s to %s", s, spanText(low), spanText(high))
	}
	return d
}

func (t table) gain(key string) (v float64) {
	if s, ok := t.text(key, `"0.057/C"`); ok {
		var err error
		if v, err = parseGain(s); err != nil {
			t.fail(key, "%v", err)
		} else if v > maxGain {
			t.fail(key, "%q is full duty for less than %g °C: no oven can be held so", s, 1/maxGain)
		}
	}
	return v
}

func (t table) yes(key string) bool {
	v, ok := t.vals[key]
	b, isBool := v.(bool)
	if ok && !isBool {
		t.fail(key, "%s, but yes or no belongs here: write true or false", kindOf(v))
	}
	return b
}

// whole reads a whole number from low to high; without the key it gives unless.
func (t table) whole(key string, unless, low, high int) int {
	v, ok := t.vals[key]
	if !ok {
		return unless
	}
	n, ok := v.(int64)
	if !ok {
		t.fail(key, "%s, but a whole number from %d to %d belongs here", kindOf(v), low, high)
	} else if n < int64(low) || n > int64(high) {
		t.fail(key, "%d is outside %d to %d", n, low, high)
	} else {
		return int(n)
	}
	return unless
}

// number reads a number from low to high; without the key it gives unless.
func (t table) number(key string, unless, low, high float64) float64 {
	v, ok := t.vals[key]
	if !ok {
		return unless
	}
	n, ok := v.(float64)
	if i, whole := v.(int64); whole {
		n, ok = float64(i), true
	}
	if !ok {
		t.fail(key, "%s, but a number from %g to %g belongs here", kindOf(v), low, high)
	} else if !(n >= low && n <= high) {
		t.fail(key, "%g is outside %g to %g", n, low, high)
	} else {
		return n
	}
	return unless
}

// date reads a day, with or without quotes; the zero Date if the key does not stand there.
func (t table) date(key string) Date {
	v, ok := t.vals[key]
	if !ok {
		return Date{}
	}
	var s string
	switch v := v.(type) {
	case toml.LocalDate:
		s = v.String()
	case string:
		s = v
	default:
		t.fail(key, "%s, but a day belongs here, as 2026-11-25", kindOf(v))
		return Date{}
	}
	d, err := ParseDate(s)
	if err != nil {
		t.fail(key, "%v", err)
	}
	return d
}

// sub gives the table under a key; ok is false if it does not stand there.
func (t table) sub(key string) (table, bool) {
	v, ok := t.vals[key]
	if !ok || t.r.bad != nil {
		return table{r: t.r, at: t.at}, false
	}
	m, ok := v.(map[string]any)
	if !ok {
		t.fail(key, "%s, but a table belongs here", kindOf(v))
	}
	return table{r: t.r, at: t.at.at(key), vals: m}, ok
}

// tables reads an array of tables.
func (t table) tables(key, header string) []table {
	v, ok := t.vals[key]
	if !ok || t.r.bad != nil {
		return nil
	}
	a, ok := v.([]any)
	if !ok {
		t.fail(key, "%s, but a list belongs here: %s", kindOf(v), header)
		return nil
	}
	w := t.at.at(key)
	out := make([]table, 0, len(a))
	for i, e := range a {
		m, ok := e.(map[string]any)
		if !ok {
			t.r.fail(w.item(i), key, kindOf(e)+", but a table belongs here: "+header)
			return nil
		}
		out = append(out, table{r: t.r, at: w.item(i), vals: m})
	}
	return out
}

// names reads a list of names of things; ok is false if the key does not stand there.
func (t table) names(key, example string) (out []string, ok bool) {
	v, ok := t.vals[key]
	if !ok || t.r.bad != nil {
		return nil, false
	}
	a, isList := v.([]any)
	if !isList || len(a) == 0 {
		t.fail(key, "a list of names belongs here, as %s", example)
	}
	w := t.at.at(key)
	for i, e := range a {
		s, isText := e.(string)
		switch {
		case !isText:
			t.r.fail(w.item(i), key, kindOf(e)+", but a name belongs here, as "+example)
		case slices.Contains(out, s):
			t.r.fail(w.item(i), key, fmt.Sprintf("%q stands in the list twice", s))
		}
		out = append(out, s)
	}
	return out, true
}

// kindOf names a value the way a person would.
func kindOf(v any) string {
	switch v := v.(type) {
	case string:
		return fmt.Sprintf("this is the text %q", v)
	case int64, float64:
		return fmt.Sprintf("the number %v", v)
	case bool:
		return fmt.Sprintf("this is %v", v)
	case []any:
		return "this is a list"
	case map[string]any:
		return "this is a table"
	}
	return "this is a date or a time of day"
}

// command reads a program by its whole path and its arguments.
func (t table) command(key string) (out []string) {
	const example = `["/usr/local/bin/ring", "kiln"]`
	v, ok := t.vals[key]
	if !ok || t.r.bad != nil {
		return nil
	}
	a, isList := v.([]any)
	if !isList || len(a) == 0 {
		t.fail(key, "a program and its arguments belong here, as %s", example)
	}
	for i, e := range a {
		s, isText := e.(string)
		if !isText || i == 0 && !strings.HasPrefix(s, "/") {
			t.r.fail(t.at.at(key).item(i), key, "the whole path of a program and then its arguments "+
				"belong here, each in quotes, as "+example)
		}
		out = append(out, s)
	}
	return out
}
