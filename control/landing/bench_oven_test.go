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
	ourTests = 3
	ourSeeds = 4
)

// ourFigures tests the noisy oven and runs our law with what the test found, mean and worst.
func ourFigures(oven string, every float64) (got, most figures) {
	p := reference(oven)
	fs := each(ourTests*ourSeeds, func(i int) figures {
		r := testItself(p, every, uint64(i/ourSeeds)+11)
		if r.why != "" {
			panic(oven + ": " + r.why)
		}
		return all(p, every, firstSeed+uint64(i), ours(p, every, r.model))
	})
	return mean(fs), worst(fs)
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
			for _, every := range []float64{1, 0.25} {
				got, most := ourFigures(oven, every)
				name := fmt.Sprintf("ours, a reading each %g s", every)
				fmt.Print(got.row(name, bound))
				fmt.Print(most.row("  the worst of "+fmt.Sprint(ourTests*ourSeeds), bound))
				got.report(b, name, bound)
			}
			for i, p := range table {
				if p.oven == oven {
					got[i].report(b, p.name, bound)
				}
			}
		})
	}
}
