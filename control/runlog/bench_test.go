package runlog

import (
	"testing"

	"github.com/stretchr/testify/require"
)

const daySamples = 24 * 3600 * 4

// BenchmarkLoadDay opens, checks and reads a run of 24 h at 4 Hz with two channels. The goal
// is 0.4 s and 150 MiB.
func BenchmarkLoadDay(b *testing.B) {
	path := newPath(b)
	writeRun(b, path, daySamples)
	b.ReportAllocs()
	b.ResetTimer()
	n, size := 0, int64(0)
	for b.Loop() {
		f, err := Open(path)
		require.NoError(b, err)
		all, err := f.All()
		require.NoError(b, err)
		n, size = len(all), f.end
		require.NoError(b, f.Close())
	}
	require.Equal(b, daySamples+2, n)
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(n), "ns/record")
	b.ReportMetric(float64(size)/(1<<20), "file-MiB")
	b.ReportMetric(float64(size)/float64(n), "B/line")
}

// BenchmarkAppend writes samples to a file, without syncs.
func BenchmarkAppend(b *testing.B) {
	w, err := Create(newPath(b), testInfo())
	require.NoError(b, err)
	w.SetSync(func() error { return nil })
	s := sampleRecord(1000)
	b.ReportAllocs()
	for b.Loop() {
		if err := w.Append(s); err != nil {
			b.Fatal(err)
		}
	}
	require.NoError(b, w.Close())
}

// BenchmarkAppendSynced writes samples of a run at 4 Hz with its real syncs: what a run in
// lockstep pays for them.
func BenchmarkAppendSynced(b *testing.B) {
	w, err := Create(newPath(b), testInfo())
	require.NoError(b, err)
	i := 0
	for b.Loop() {
		i++
		if err := w.Append(sampleRecord(i)); err != nil {
			b.Fatal(err)
		}
	}
	require.NoError(b, w.Close())
}
