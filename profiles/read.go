package profiles

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"strawline/probe/temp"
)

// biggestFile is far above any profile; it bounds what a wrong file can cost.
const biggestFile = 256 << 10

// reader keeps the first problem; everything after it reads as absent.
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

// open checks that data is TOML and gives its outermost table.
func (r *reader) open() table {
	t := table{r: r, at: &where{}}
	if len(r.data) > biggestFile {
		r.fail(t.at, "", "the file is larger than 256 KiB, which no profile is")
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
		strings.HasPrefix(m, "strings must be quoted"):
		return `text, temperatures and spans stand in quotes, as "400F" or "2h", and nothing ` +
			`follows them on the line`
	case strings.Contains(m, "strings cannot have new lines"):
		return "the closing quote of this text is missing"
	case strings.Contains(m, "already"):
		return "this stands in the file twice: keep one of them"
	case strings.Contains(m, "store"), strings.Contains(m, "decode"):
		return "this key is both a value and a table: keep one of them"
	case strings.Contains(m, "key"):
		return "this is not TOML: " + m + `; a line reads key = "value"`
	}
	return "this is not TOML: " + m
}

func (r *reader) fail(w *where, key, text string) {
	if r.bad != nil {
		return
	}
	line, column := place(r.data, w.offset)
	r.bad = &Problem{File: r.file, Line: line, Column: column, Key: key, Text: text}
}

// known complains of the first key that is not in the list.
func (t table) known(what string, keys ...string) {
	first := ""
	for k := range t.vals {
		if !contains(keys, k) && (first == "" || t.at.at(k).offset < t.at.at(first).offset) {
			first = k
		}
	}
	if first == "" {
		return
	}
	text := fmt.Sprintf("unknown key: %s knows %s", what, list(keys))
	if near := closest(first, keys); near != "" {
		text = fmt.Sprintf("unknown key: did you mean %s?", near)
	}
	t.r.fail(t.at.at(first), first, text)
}

func contains(list []string, s string) bool {
	for _, v := range list {
		if v == s {
			return true
		}
	}
	return false
}

// list joins words: "a, b and c".
func list(words []string) string {
	n := len(words)
	if n < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:n-1], ", ") + " and " + words[n-1]
}

// has reports whether the key stands there.
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

// words reads text for a person: line breaks become spaces.
func (t table) words(key, example string) string {
	s, _ := t.text(key, example)
	return strings.Join(strings.Fields(s), " ")
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

func (t table) delta(key string) (temp.Delta, bool) {
	s, ok := t.text(key, `"10F" or "5C"`)
	if !ok {
		return 0, false
	}
	d, _, err := temp.ParseDelta(s)
	if err != nil {
		t.fail(key, "%q is no difference of temperature: write it with its unit, as 10F or 5C", s)
	}
	return d, err == nil
}

func (t table) rate(key string) (v float64) {
	if s, ok := t.text(key, `"300F/h" or "5C/min"`); ok {
		var err error
		if v, err = ParseRate(s); err != nil {
			t.fail(key, "%v", err)
		} else if !(v > 0) {
			t.fail(key, "a rate is above zero; leave it out to go as fast as the oven can")
		}
	}
	return v
}

// span reads a span above zero; 0 if the key does not stand there.
func (t table) span(key string) (d time.Duration) {
	if s, ok := t.text(key, `"2h" or "20m"`); ok {
		var err error
		if d, err = ParseSpan(s); err != nil {
			t.fail(key, "%v", err)
		} else if d <= 0 {
			t.fail(key, "%q is no time at all: write it as 2h, 20m or 1h30m", s)
		}
	}
	return d
}

func (t table) yes(key string) bool {
	v, ok := t.vals[key]
	b, isBool := v.(bool)
	if ok && !isBool {
		t.fail(key, "%s, but yes or no belongs here: write true or false", kindOf(v))
	}
	return b
}

// whole reads a whole number between low and high.
func (t table) whole(key string, low, high int) int {
	n, ok := t.vals[key].(int64)
	if !ok {
		t.fail(key, "%s, but a whole number belongs here: write it as %d", kindOf(t.vals[key]), 2)
	} else if n < int64(low) || n > int64(high) {
		t.fail(key, "%d is outside %d to %d", n, low, high)
		n = int64(low)
	}
	return int(n)
}

// tables reads an array of tables with at least one in it.
func (t table) tables(key, header string) []table {
	v, ok := t.vals[key]
	if !ok || t.r.bad != nil {
		return nil
	}
	a, ok := v.([]any)
	if !ok || len(a) == 0 {
		t.fail(key, "steps belong here, each under its own line %s", header)
		return nil
	}
	w := t.at.at(key)
	out := make([]table, 0, len(a))
	for i, e := range a {
		m, ok := e.(map[string]any)
		if !ok {
			t.r.fail(w.item(i), key, kindOf(e)+", but a step belongs here: begin it with "+header)
			return nil
		}
		out = append(out, table{r: t.r, at: w.item(i), vals: m})
	}
	return out
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
	case nil:
		return "nothing stands here"
	}
	return "this is a date or a time of day"
}

// withoutMark drops the byte order mark that some editors put before the text.
func withoutMark(data []byte) []byte {
	return bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
}
