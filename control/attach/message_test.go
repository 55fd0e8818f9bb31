package attach

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/profiles"
)

// fill gives every field that v has a value of its own, so that one which JSON loses is seen.
func fill(v reflect.Value, n *int) {
	*n++
	switch v.Kind() {
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fill(v.Elem(), n)
	case reflect.Struct:
		switch x := v.Addr().Interface().(type) {
		case *time.Time:
			*x = time.Date(2026, 11, 25, 8, 0, *n%60, 0, time.UTC)
			return
		case json.Unmarshaler: // has a form and tests of its own
			return
		}
		for i := range v.NumField() {
			fill(v.Field(i), n)
		}
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 2, 2))
		for i := range v.Len() {
			fill(v.Index(i), n)
		}
	case reflect.Array:
		for i := range v.Len() {
			fill(v.Index(i), n)
		}
	case reflect.String:
		v.SetString(strings.Repeat("x", *n%7+1))
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Int, reflect.Int64, reflect.Int32:
		v.SetInt(int64(*n))
	case reflect.Uint, reflect.Uint64, reflect.Uint32, reflect.Uint8:
		v.SetUint(uint64(*n))
	case reflect.Float64:
		v.SetFloat(float64(*n) + 0.25)
	default:
		panic("a kind of field that this test does not know: " + v.Kind().String())
	}
}

// TestSnapshotTravels: every field of a Snapshot comes over as it was, those that other packages
// add later too.
func TestSnapshotTravels(t *testing.T) {
	var want control.Snapshot
	n := 0
	fill(reflect.ValueOf(&want).Elem(), &n)
	require.Greater(t, n, 100)
	want.Info.Profile.Steps = []profiles.Step{} // a list is never absent in its JSON form
	line, err := encode(message{Snap: newSnap(want, true)})
	require.NoError(t, err)
	m, err := decode(bytes.TrimSuffix(line, []byte("\n")))
	require.NoError(t, err)
	require.Equal(t, want, m.Snap.snapshot(nil))

	line, err = encode(message{Snap: newSnap(want, false)})
	require.NoError(t, err)
	require.NotContains(t, string(line), `"shop"`)
	m, err = decode(line)
	require.NoError(t, err)
	require.Equal(t, want, m.Snap.snapshot(want.Info))
}

func TestBadLines(t *testing.T) {
	for _, l := range []string{"", "{", "[]", `{"hello":3}`, `{"take":true,"watch":""}`,
		`{"past":{"from":-1}}`, `"hello"`, "\x00"} {
		_, err := decode([]byte(l))
		require.ErrorIs(t, err, errLine, l)
	}
	long := newLines(strings.NewReader(`{"watch":"` + strings.Repeat("x", MostLine) + `"}`))
	_, err := long.next()
	require.Error(t, err)
}

const corpus = "../../testdata/attach/lines.jsonl"

// FuzzLine: no line breaks the reader, and what is read is written and read again the same.
func FuzzLine(f *testing.F) {
	text, err := os.ReadFile(filepath.FromSlash(corpus))
	require.NoError(f, err)
	for l := range bytes.Lines(text) {
		f.Add(bytes.TrimSpace(l))
	}
	f.Fuzz(func(t *testing.T, line []byte) {
		m, err := decode(line)
		if err != nil {
			return
		}
		if m.Snap != nil {
			m.Snap.snapshot(nil)
		}
		again, err := encode(m)
		if err != nil { // a profile's step that JSON reads and does not write
			return
		}
		m2, err := decode(bytes.TrimSuffix(again, []byte("\n")))
		require.NoError(t, err)
		last, err := encode(m2)
		require.NoError(t, err)
		require.Equal(t, string(again), string(last))
	})
}
