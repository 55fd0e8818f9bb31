package tune

import (
	"testing"

	"strawline/probe/plant"
)

func BenchmarkColdStart(b *testing.B) {
	r := heatUp(plant.A(), newGauge(0.5, 0.25, 0.25, 1))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := ColdStart(r); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkStepTest(b *testing.B) {
	r := stepUp(b, plant.A(), newGauge(0.5, 0.25, 0.25, 1), 240, 600)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := StepTest(r); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkRelayTest(b *testing.B) {
	r, _ := relayAt(b, plant.A(), newGauge(0.5, 0.25, 0.25, 1), plan())
	b.ReportAllocs()
	for b.Loop() {
		if _, err := RelayTest(r); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkRelayStep(b *testing.B) {
	start := plan()
	r, now := start, 0.0
	b.ReportAllocs()
	for b.Loop() {
		now += 0.25
		if _, done, _ := r.Step(now, 200); done {
			r, now = start, 0
		}
	}
}

func BenchmarkMargins(b *testing.B) {
	m := models()["A two lags"]
	l := Setup{Every: 0.25, Window: 2, N: 8, Tf: 3}.Close(m, SIMC(m, 20).Ideal())
	for b.Loop() {
		if !l.Margins().Stable {
			b.Fatal("unstable")
		}
	}
}

func BenchmarkPredict(b *testing.B) {
	m := models()["A two lags"]
	g := SIMC(m, 20).Ideal()
	s := Setup{Every: 0.25, Window: 2, N: 8, Tf: 3}
	for b.Loop() {
		if _, err := Predict(m, g, s, DefaultScene(m)); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkRecommend(b *testing.B) {
	m := models()["A two lags"]
	for b.Loop() {
		if _, _, _, err := Recommend(m, Noise{0.3, 0.25}, 2); err != nil {
			b.Fatal(err)
		}
	}
}
