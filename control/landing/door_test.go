package landing_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"strawline/control/landing"
	"strawline/probe/plant"
)

// doorRun opens the door at each of the times for as many seconds and gives how far the probe
// passed the setpoint and whether it is in the band at the end.
func doorRun(p plant.Params, every float64, m landing.Model, at []int, long int) (f figures) {
	b := newBench(p, every, 7, newDrive(p, every, m).step)
	for _, from := range at {
		b.run(from)
		b.oven.SetDoor(true)
		b.run(from + long)
		b.oven.SetDoor(false)
	}
	b.run(at[len(at)-1] + 3000)
	f.overshoot, f.settle = highest(b.probe)-setC, settled(b.probe)
	return f
}

// A door that is opened on the way down from full power, or again while the oven recovers, makes
// the probe pass its setpoint by no more than a door in the soak may, and the oven comes back.
func TestADoorAtABadTime(t *testing.T) {
	for _, oven := range []string{"A", "B"} {
		p := reference(oven)
		bound := int(boundOf(p))
		for _, every := range []float64{0.25, 1} {
			m := testItself(p, every, 11).model
			for _, c := range []struct {
				name string
				at   []int
				long int
			}{
				{"heating", []int{bound / 2}, 20},
				{"at the cut", []int{bound - 25}, 20},
				{"landing", []int{bound - 5}, 20},
				{"settling", []int{bound + 60}, 20},
				{"long", []int{3600}, 60},
				{"short", []int{3600}, 5},
				{"twice", []int{3600, 3640}, 20},
				{"three times", []int{3600, 3640, 3700}, 20},
			} {
				f := doorRun(p, every, m, c.at, c.long)
				assert.LessOrEqual(t, f.overshoot, 2.0, "%s, %g s, %s", oven, every, c.name)
				assert.Less(t, f.settle, float64(c.at[len(c.at)-1]+1500), "%s, %g s, %s",
					oven, every, c.name)
			}
		}
	}
}

// While the door is open the law asks for no more than held the oven before, however long.
func TestADoorRaisesNoDuty(t *testing.T) {
	p := plant.A()
	d := newDrive(p, 0.25, testItself(p, 1, 11).model)
	sum, n, doors := 0.0, 0.0, 0
	open := false
	b := newBench(p, 0.25, 8, func(y float64) float64 {
		u := d.step(y)
		switch {
		case !open:
			sum, n = sum+u, n+1
		case d.out.Phase == landing.Door:
			doors++
			assert.LessOrEqual(t, u, sum/n+0.05)
		}
		return u
	})
	b.run(3000)
	sum, n = 0, 0 // the mean of the soak from here on
	b.run(3600)
	open = true
	b.oven.SetDoor(true)
	b.run(3690)
	assert.Greater(t, doors, 4*80)
}
