package control

import "slices"

// sampleRoom is a Sample with room for all that it points to, made once and used again at each
// step.
type sampleRoom struct {
	s    Sample
	raw  []uint32
	has  []bool
	temp []*float64
	num  []float64 // the temperatures, set, blade and soak
}

// newRoom gives a room for samples of n channels.
func newRoom(n int) sampleRoom {
	return sampleRoom{raw: make([]uint32, n), has: make([]bool, n), temp: make([]*float64, n),
		num: make([]float64, 0, n+3)}
}

// sample gives an empty sample; the one before is not to be used any more.
func (r *sampleRoom) sample() *Sample {
	clear(r.temp)
	r.num = r.num[:0]
	r.s = Sample{Raw: r.raw, HasRaw: r.has, Temp: r.temp}
	return &r.s
}

// number gives v a place; there are no more than the room was made for.
func (r *sampleRoom) number(v float64) *float64 {
	r.num = append(r.num, v)
	return &r.num[len(r.num)-1]
}

// Kept gives r as it may stand in a queue or a list beyond the engine's next Step: a sample is
// copied, an event is never changed once it was made.
func (r Record) Kept() Record {
	if r.Sample == nil {
		return r
	}
	s := *r.Sample
	s.Raw, s.HasRaw, s.Temp = slices.Clone(s.Raw), slices.Clone(s.HasRaw), slices.Clone(s.Temp)
	num := make([]float64, 0, len(s.Temp)+3)
	kept := func(p *float64) *float64 {
		if p == nil {
			return nil
		}
		num = append(num, *p)
		return &num[len(num)-1]
	}
	for i := range s.Temp {
		s.Temp[i] = kept(s.Temp[i])
	}
	s.Set, s.Blade, s.Soak = kept(s.Set), kept(s.Blade), kept(s.Soak)
	return Record{Sample: &s}
}
