package landing_test

import (
	"math"
	"math/rand/v2"
	"runtime"
	"sync"

	"strawline/probe/plant"
	"strawline/probe/temp"
)

// The conditions of the table in testdata/control/peers.csv.
const (
	setC      = 200.0
	bandC     = 1.0
	noiseC    = 0.5  // uniform, ±
	lsbC      = 0.25 // that readings are rounded to
	windowS   = 2.0  // over which the duty is spread
	switchS   = 0.01 // its grain
	soakFrom  = 1800 // s
	soakTo    = 9000
	doorFrom  = 5400
	doorFor   = 20
	mainsFrom = 3600
	mainsTo   = 5400
	mainsLow  = 0.95 * 0.95 // of the watts, at 5 % less voltage
	never     = 1e6         // s
)

// duties is a control law: a reading in, °C, and the duty from then on, 0 to 1.
type duties func(y float64) float64

// bench is an oven with a board on it.
type bench struct {
	oven   *plant.Oven
	watts  float64
	every  float64 // s between readings
	random *rand.Rand
	ticks  int
	on     float64   // s of the window in which the heat is on
	probe  []float64 // the noise-free probe after each whole second
	law    duties
}

func newBench(p plant.Params, every float64, seed uint64, law duties) *bench {
	return &bench{oven: plant.New(p, p.Room), watts: p.HeaterW, every: every,
		random: rand.New(rand.NewPCG(seed, 7)), law: law}
}

// reading is what the board says.
func (b *bench) reading() float64 {
	y := float64(b.oven.Probe()) + noiseC*(2*b.random.Float64()-1)
	return math.RoundToEven(y/lsbC) * lsbC
}

// run goes on until so many seconds have gone by since the start.
func (b *bench) run(until int) {
	const tick = 0.25
	for b.ticks < 4*until {
		duty := b.law(b.reading())
		for range int(b.every / tick) {
			phase := math.Mod(float64(b.ticks)*tick, windowS)
			if phase == 0 {
				b.on = math.RoundToEven(min(1, max(0, duty))*windowS/switchS) * switchS
			}
			b.oven.Step(b.watts * max(0, min(b.on, phase+tick)-phase) / tick)
			b.ticks++
			if b.ticks%4 == 0 {
				b.probe = append(b.probe, float64(b.oven.Probe()))
			}
		}
	}
}

// figures is how well a law does. Seconds, and °C of the noise-free probe.
type figures struct {
	reach, overshoot, settle, rms, rebound, recovery, mains float64
}

// settled gives the second from which a probe, given once a second, stays in the band; never if it
// is not in it at the end.
func settled(probe []float64) float64 {
	for i := len(probe) - 1; i >= 0; i-- {
		if math.Abs(probe[i]-setC) > bandC {
			if i == len(probe)-1 {
				return never
			}
			return float64(i + 2)
		}
	}
	return 0
}

func highest(probe []float64) float64 {
	top := math.Inf(-1)
	for _, y := range probe {
		top = max(top, y)
	}
	return top
}

func rms(probe []float64) float64 {
	sum := 0.0
	for _, y := range probe {
		sum += (y - setC) * (y - setC)
	}
	return math.Sqrt(sum / float64(len(probe)))
}

// maker makes a law anew for a run.
type maker func() duties

// quiet takes the figures of a run in which nothing happens.
func quiet(p plant.Params, every float64, seed uint64, law maker) (f figures) {
	b := newBench(p, every, seed, law())
	b.run(soakTo)
	f.reach = never
	for i, y := range b.probe {
		if y >= setC-bandC {
			f.reach = float64(i + 1)
			break
		}
	}
	f.overshoot = highest(b.probe) - setC
	f.settle = settled(b.probe)
	f.rms = rms(b.probe[soakFrom:soakTo])
	return f
}

// door takes the figures of a run in which the door is opened.
func door(p plant.Params, every float64, seed uint64, law maker) (rebound, recovery float64) {
	const looked = 2600
	b := newBench(p, every, seed, law())
	b.run(doorFrom)
	b.oven.SetDoor(true)
	b.run(doorFrom + doorFor)
	b.oven.SetDoor(false)
	b.run(doorFrom + looked)
	for i := doorFrom; i < len(b.probe); i++ {
		if math.Abs(b.probe[i]-setC) > bandC {
			recovery = float64(i - doorFrom + 1)
		}
	}
	if recovery == looked {
		recovery = never
	}
	return highest(b.probe[doorFrom+doorFor:doorFrom+1800]) - setC, recovery
}

// mains takes how far a run falls when the voltage does.
func mains(p plant.Params, every float64, seed uint64, law maker) float64 {
	b := newBench(p, every, seed, law())
	b.run(mainsFrom)
	b.watts *= mainsLow
	b.run(mainsTo)
	low := math.Inf(1)
	for _, y := range b.probe[mainsFrom:] {
		low = min(low, y)
	}
	return setC - low
}

// all takes all the figures of a seed.
func all(p plant.Params, every float64, seed uint64, law maker) figures {
	f := quiet(p, every, seed, law)
	f.rebound, f.recovery = door(p, every, seed, law)
	f.mains = mains(p, every, seed, law)
	return f
}

// list gives the places of the figures.
func (f *figures) list() []*float64 {
	return []*float64{&f.reach, &f.overshoot, &f.settle, &f.rms, &f.rebound, &f.recovery, &f.mains}
}

// mean is the mean of each figure; one that was once never reached has none.
func mean(fs []figures) (m figures) {
	for i, v := range m.list() {
		most := 0.0
		for j := range fs {
			x := *fs[j].list()[i]
			*v += x / float64(len(fs))
			most = max(most, x)
		}
		if most >= never {
			*v = never
		}
	}
	return m
}

// worst has the largest of each figure.
func worst(fs []figures) (w figures) {
	w = fs[0]
	for i, v := range w.list() {
		for j := range fs {
			*v = max(*v, *fs[j].list()[i])
		}
	}
	return w
}

// each does n jobs on all cores and gives their results in order.
func each[T any](n int, job func(i int) T) []T {
	out := make([]T, n)
	next := make(chan int)
	var wait sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			for i := range next {
				out[i] = job(i)
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	wait.Wait()
	return out
}

// reference gives the oven of a name.
func reference(name string) plant.Params {
	if name == "B" {
		return plant.B()
	}
	return plant.A()
}

// boundOf is the oven's bound, s.
func boundOf(p plant.Params) float64 {
	d, err := plant.Bound(p, setC, temp.Delta(bandC))
	if err != nil {
		return never
	}
	return d.Seconds()
}
