package runlog

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// seeds gives the kept inputs of a fuzz target.
func seeds(f *testing.F, pattern string) {
	names, err := filepath.Glob(filepath.Join(corpus, pattern))
	require.NoError(f, err)
	require.NotEmpty(f, names)
	for _, name := range names {
		text, err := os.ReadFile(name)
		require.NoError(f, err)
		f.Add(text)
		for line := range bytes.Lines(text) {
			line = bytes.TrimSuffix(line, []byte("\n"))
			f.Add(line)
			body, _, _ := unseal(line)
			if _, fields, ok := number(body); ok {
				f.Add(fields)
			}
		}
	}
}

// FuzzLine: what our decoder takes for a sample, encoding/json reads the same; and written
// again it reads the same again.
func FuzzLine(f *testing.F) {
	seeds(f, "chain.ndjson")
	seeds(f, "corpus/line-*")
	f.Fuzz(func(t *testing.T, line []byte) {
		fields := line // a line without its number and its hash, or a whole one
		if body, _, ok := unseal(line); ok {
			if _, fields, ok = number(body); !ok {
				return
			}
		}
		r, err := decodeRecord(fields, &arena{})
		if err != nil || r.Sample == nil {
			return
		}
		agree(t, fmt.Appendf(nil, `{"n":1,%s,"h":"000000"}`, fields), r.Sample)
		r = RoundRecord(r)
		again, err := appendFields(nil, r)
		require.NoError(t, err)
		back, err := decodeRecord(again, &arena{})
		require.NoError(t, err)
		require.Equal(t, r, back)
	})
}

// FuzzOpen: no bytes make Open panic, and reading on finds at least what strict reading finds.
func FuzzOpen(f *testing.F) {
	seeds(f, "chain.ndjson")
	seeds(f, "corpus/file-*")
	f.Fuzz(func(t *testing.T, data []byte) {
		checkOpen(t, data)
		checkOpen(t, resealed(data))
	})
}

// resealed gives every line that has a hash its right one, so that changed bytes come past
// the chain.
func resealed(data []byte) (out []byte) {
	var prev []byte
	for line := range bytes.Lines(data) {
		if body, _, ok := unseal(bytes.TrimSuffix(line, []byte("\n"))); ok {
			h, _ := chain(nil, prev, body)
			prev = h[:]
			line = fmt.Appendf(nil, `%s,"h":"%s"}`+"\n", body, prev)
		}
		out = append(out, line...)
	}
	return out
}

// checkOpen reads data strictly and reading on.
func checkOpen(t *testing.T, data []byte) {
	strict, err := scan(bytes.NewReader(data), int64(len(data)), false)
	on, errOn := scan(bytes.NewReader(data), int64(len(data)), true)
	if err == nil {
		require.NoError(t, errOn)
		require.Equal(t, strict.Len(), on.Len())
		require.Empty(t, on.Breaks)
		require.Equal(t, int64(len(data)), strict.end+strict.Tail.Bytes)
	}
	if errOn == nil {
		all, err := on.All()
		require.NoError(t, err)
		require.Len(t, all, on.Len())
	}
}
