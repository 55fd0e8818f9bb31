package keeper

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe/lines"
	"strawline/probe/port"
)

// mumble is a stream whose board prints one bare number after another.
type mumble struct{ n int }

func (m *mumble) Read(p []byte) (int, error) {
	m.n++
	return copy(p, []string{"181.25\r\n", "181.50\r\n", "181.75\r\n", "182.00\r\n"}[m.n%4]), nil
}
func (m *mumble) Write(p []byte) (int, error)        { return len(p), nil }
func (m *mumble) SetReadTimeout(time.Duration) error { return nil }
func (m *mumble) ResetInputBuffer() error            { return nil }
func (m *mumble) Close() error                       { return nil }

func TestAnOpenQuestionOfASketchIsAskedAndNothingIsRun(t *testing.T) {
	now := time.Duration(0)
	out := filepath.Join(t.TempDir(), "r")
	_, err := Prepare(t.Context(), Config{Port: port.Config{Name: "p", Sketch: &port.Sketch{Hint: lines.Hint{}}},
		Open: func() (port.Stream, error) { return &mumble{}, nil }, NoHeater: true, Out: out,
		Clock: Clock{Now: func() time.Duration { now += 250 * time.Millisecond; return now }}})
	require.ErrorIs(t, err, ErrQuestion)
	require.ErrorContains(t, err, "say unit = ")
	require.NoFileExists(t, out)
}
