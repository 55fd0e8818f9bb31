package landing_test

import (
	"fmt"
	"strings"
	"testing"
)

const (
	quietSeeds = 20 // of the runs in which nothing happens
	eventSeeds = 5  // of those with a door or less voltage
	firstSeed  = 3  // as in the peers' table
)

// peerFigures runs a peer over all seeds.
func peerFigures(oven string, law maker) figures {
	p := reference(oven)
	quiets := each(quietSeeds, func(i int) figures { return quiet(p, 1, firstSeed+uint64(i), law) })
	events := each(eventSeeds, func(i int) (f figures) {
		f.rebound, f.recovery = door(p, 1, firstSeed+uint64(i), law)
		f.mains = mains(p, 1, firstSeed+uint64(i), law)
		return f
	})
	f, e := mean(quiets), mean(events)
	f.rebound, f.recovery, f.mains = e.rebound, e.recovery, e.mains
	return f
}

// ourTests and ourSeeds say how often ours is tested, and run after each test.
const (
	ourTests  = 6
	ourSeeds  = 4
	firstTest = 11
)

// The goals of the project for ours on both ovens; rebound and recovery on oven A.
const (
	goalBound    = 1.10 // of the bound, settled
	goalOver     = 0.5  // °C
	goalRMS      = 0.06 // °C
	goalMains    = 0.7  // °C
	goalRebound  = 2.0  // °C
	goalRecovery = 150  // s
)

// missed says in how many runs each goal was missed.
func missed(oven string, bound float64, fs []figures) string {
	count := func(miss func(f figures) bool) (n int) {
		for _, f := range fs {
			if miss(f) {
				n++
			}
		}
		return n
	}
	text := fmt.Sprintf("  goals missed in single runs, of %d: settled %d, over %d, rms %d, mains %d",
		len(fs), count(func(f figures) bool { return f.settle > goalBound*bound }),
		count(func(f figures) bool { return f.overshoot > goalOver }),
		count(func(f figures) bool { return f.rms > goalRMS }),
		count(func(f figures) bool { return f.mains > goalMains }))
	if oven == "A" {
		text += fmt.Sprintf(", rebound %d, recovery %d",
			count(func(f figures) bool { return f.rebound > goalRebound }),
			count(func(f figures) bool { return f.recovery > goalRecovery }))
	}
	return text + "\n"
}

// ourFigures tests the noisy oven and runs our law with what the test found. The oven tests
// itself through its readings; of its parameters the law is told the room's temperature alone.
func ourFigures(oven string, every float64) ([]figures, error) {
	p := reference(oven)
	tests := each(ourTests, func(i int) tuned { return testItself(p, every, firstTest+uint64(i)) })
	for _, r := range tests {
		if r.why != "" {
			return nil, fmt.Errorf("oven %s carried no model: %s", oven, r.why)
		}
	}
	return each(ourTests*ourSeeds, func(i int) figures {
		return all(p, every, firstSeed+uint64(i), ours(p, every, tests[i/ourSeeds].model))
	}), nil
}

// BenchmarkOven prints how known controllers and ours bring the two reference ovens to 200 °C and
// hold them there, beside what nothing could do better. It compares nothing before the known ones
// do what their table says. It times nothing.
func BenchmarkOven(b *testing.B) {
	models := peerModels(b)
	table := publishedTable(b)
	got := make([]figures, len(table))
	var faults []string
	var text strings.Builder
	fmt.Fprintf(&text, "The peers against their table (means of %d seeds, with a door or less "+
		"voltage of %d; the table's of 3)\n%-2s%-32s%17s%19s\n", quietSeeds, eventSeeds, "",
		"", "overshoot °C", "settle s")
	for i, p := range table {
		law, ok := peers(models[p.oven])[p.name]
		if !ok {
			b.Fatalf("there is no peer %q", p.name)
		}
		got[i] = peerFigures(p.oven, law)
		faults = append(faults, p.judge(got[i])...)
		fmt.Fprintf(&text, "%-2s%-32s%8.2f (%5.2f) %10s (%6s)\n", p.oven, p.name,
			got[i].overshoot, p.overshoot, whole(got[i].settle), whole(p.settle))
	}
	fmt.Println(text.String())
	if len(faults) > 0 {
		b.Fatalf("the peers are not those of the table, so nothing is compared:\n%s",
			strings.Join(faults, "\n"))
	}
	for _, oven := range []string{"A", "B"} {
		bound := boundOf(reference(oven))
		fmt.Print(head(fmt.Sprintf("Oven %s: the bound is %.0f s", oven, bound)))
		b.Run(oven, func(b *testing.B) {
			for i, p := range table {
				if p.oven == oven {
					fmt.Print(got[i].row(p.name, bound))
				}
			}
			var reports []func() // after the table, or they would stand in the midst of it
			for _, every := range []float64{1, 0.25} {
				runs, err := ourFigures(oven, every)
				if err != nil {
					b.Fatal(err)
				}
				got := mean(runs)
				name := fmt.Sprintf("ours, a reading each %g s", every)
				fmt.Print(got.row(name, bound))
				fmt.Print(worst(runs).row("  the worst of "+fmt.Sprint(len(runs)), bound))
				fmt.Print(missed(oven, bound, runs))
				reports = append(reports, func() { got.report(b, name, bound) })
			}
			for _, report := range reports {
				report()
			}
			for i, p := range table {
				if p.oven == oven {
					got[i].report(b, p.name, bound)
				}
			}
		})
	}
}
