package keeper

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"strawline/control"
	"strawline/probe"
	"strawline/probe/sim"
)

// TestProofsInTheHead: a run of a real heater says when its board was proved; a simulated one and
// one without a heater carry nothing of it, so that no day of the machine enters their files.
func TestProofsInTheHead(t *testing.T) {
	p := &control.Proofs{Limit: control.ProofInfo{Date: "2026-11-12"}}
	head := func(change func(*Config)) control.Info {
		cfg := Config{Proofs: p, Clock: Clock{Wall: func() time.Time { return SimulatedStart }}}
		change(&cfg)
		k := &Keeper{cfg: cfg, first: probe.Batch{}}
		return k.head()
	}
	assert.Equal(t, p, head(func(*Config) {}).Shop.Proofs)
	assert.Nil(t, head(func(c *Config) { c.NoHeater = true }).Shop.Proofs)
	assert.Nil(t, head(func(c *Config) {
		c.Sim = &Simulation{Board: sim.New(sim.Config{})}
	}).Shop.Proofs)
}
