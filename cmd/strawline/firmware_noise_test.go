package main

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe/board"
)

// noise is what a bad cable did to the lines of one seed.
type noise struct {
	lines, dropped, flipped, doubled, delayed int
	taken, refused                            int
	wrong, heats                              int // taken though never sent; those that raise heat
	late                                      int // taken after a newer line was sent
}

// cable is a line to the board on which each line is lost, changed in 1 to 8 bits, sent twice or
// held back by 1 to 4 lines, with 1 in 100 each.
type cable struct {
	r    *rand.Rand
	held map[int][]byte // by the tick at which they come
	n    noise
}

func (c *cable) carry(tick int, line []byte) []byte {
	out := c.held[tick]
	delete(c.held, tick)
	c.n.lines++
	bad := func() bool { return c.r.IntN(100) == 0 }
	if bad() {
		c.n.dropped++
		return out
	}
	if bad() {
		c.n.flipped++
		for range 1 + c.r.IntN(8) {
			line[c.r.IntN(len(line))] ^= 1 << c.r.IntN(8)
		}
	}
	if bad() {
		c.n.doubled++
		line = append(line, line...)
	}
	if bad() {
		c.n.delayed++
		at := tick + 1 + c.r.IntN(4)
		c.held[at] = append(c.held[at], line...)
		return out
	}
	return append(out, line...)
}

// runNoise sends so many lines of a host to the firmware's codec.
func runNoise(t *testing.T, p *pipe, seed uint64, lines int) noise {
	const batch = 500 // lines whose bytes and answers fit into the pipes
	c := &cable{r: rand.New(rand.NewPCG(seed, 0)), held: map[int][]byte{}}
	var sent [1 << 16]int // duty by number, -1 where none was sent
	for i := range sent {
		sent[i] = -1
	}
	number := board.StartOf(uint16(seed))
	p.send('S', uint32(uint16(seed)), nil)
	before := 0
	for from := 0; from < lines; from += batch {
		for tick := from; tick < from+batch; tick++ {
			number++
			var f board.Frame
			if tick%60 == 59 { // as a host asks whose commands are not accepted any more
				f = board.Query{Seq: number}
				sent[number] = -1
			} else {
				d := board.Duty{Seq: number, PerMille: uint16(c.r.IntN(1001))}
				sent[number] = int(d.PerMille)
				f = d
			}
			p.send('L', uint32(tick)*1000, c.carry(tick, board.Append(nil, f)))
		}
		p.flush()
		for tick := from; tick < from+batch; tick++ {
			head := p.get(2)
			c.n.refused += int(head[0])
			newest := number - uint16(from+batch-1-tick)
			for range head[1] {
				b := p.get(5)
				seq, value := binary.LittleEndian.Uint16(b[1:]), int(binary.LittleEndian.Uint16(b[3:]))
				c.n.taken++
				switch {
				case b[0] == 'Q' && newest-seq < 8:
					continue
				case b[0] == 'D' && sent[seq] == value && newest-seq < 8:
					if seq != newest {
						c.n.late++
					}
				default:
					c.n.wrong++
					if b[0] == 'D' && value > before {
						c.n.heats++
					}
				}
				before = value
			}
		}
	}
	return c.n
}

// firmwareNoise: over a bad cable no command is taken that the host did not send. How many
// slip through the check by chance is arithmetic: changed lines times 2^-16, and fewer, since their
// numbers must fit as well. STRAWLINE_NOISE sets the count of lines a seed.
func firmwareNoise(t *testing.T, dir string) {
	lines := 100_000
	if s := os.Getenv("STRAWLINE_NOISE"); s != "" {
		var err error
		lines, err = strconv.Atoi(s)
		require.NoError(t, err)
	}
	for _, seed := range []uint64{1, 2, 3} {
		n := runNoise(t, newPipe(t, dir), seed, lines)
		expected := float64(n.flipped) / (1 << 16)
		t.Logf("seed %d: %d lines, %d dropped, %d changed, %d doubled, %d delayed; %d taken, "+
			"%d refused, %d taken late; never sent but taken: %d, of them raising heat %d "+
			"(by chance at most %.3f)", seed, n.lines, n.dropped, n.flipped, n.doubled, n.delayed,
			n.taken, n.refused, n.late, n.wrong, n.heats, expected)
		assert.LessOrEqual(t, float64(n.heats), math.Round(expected), "seed %d", seed)
		assert.Greater(t, n.refused, n.flipped/2, "the cable was bad")
		// Dropped, changed and overtaken lines are lost, one each.
		lost := n.dropped + n.flipped + n.delayed
		assert.InDelta(t, n.lines-lost, n.taken, float64(n.lines)/500)
	}
}
