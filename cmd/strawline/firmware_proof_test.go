package main

import (
	"bytes"
	"context"
	"encoding/json"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/control/shop"
	"strawline/probe/port"
)

// firmwareProof walks a person through the proofs of the real firmware in the simulated processor:
// its limit, which is put back, and its dead man. The cable is left out: nobody can pull it there.
func firmwareProof(t *testing.T, b bench) {
	path, r := startBench(t, b, "--start", "120", "--stored", "1,1027,2,50")
	inner := port.OpenSerial(path, baud)
	open := func() (port.Stream, error) {
		s, err := inner()
		if err == nil {
			r.Opened()
		}
		return s, err
	}
	p := &answers{typed: make(chan string, 4), rules: instead(willing(),
		rule{when: askCable, say: "no"})}
	var out bytes.Buffer
	c := &proving{talk: &talk{h: &host{out: &out, err: p}, ctx: context.Background(), typed: p.typed},
		f: &proofFlags{json: true}}
	c.simulated(r, open)
	file := filepath.Join(t.TempDir(), "found.toml")
	c.store, c.file = shop.NewStore(file), file
	require.NoError(t, c.walk(), p.String())
	c.close()
	var a proofAnswer
	require.NoError(t, json.Unmarshal(out.Bytes(), &a))
	for _, part := range []shop.Part{shop.PartLimit, shop.PartDeadMan, shop.PartCutOut} {
		assert.Equal(t, "passed", a.result(part).Result, p.String())
		t.Log(part, a.result(part).Seen)
	}
	assert.Equal(t, "not done", a.result(shop.PartCable).Result)
	assert.Equal(t, int16(1027), c.board.Settings.LimitQ, "as it was stored")
	assert.Equal(t, []string{"host silent"}, a.Latches, "nobody had it reset")
	found, err := c.store.Load()
	require.NoError(t, err)
	assert.Empty(t, found.Lowered)
}
