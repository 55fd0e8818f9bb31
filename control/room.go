package control

// sampleRoom is a Sample with room for all that it points to: one allocation a step instead of
// one a figure. It is not used again, since a record may stand in a queue for long.
type sampleRoom struct {
	s    Sample
	raw  [2]uint32
	has  [2]bool
	temp [2]*float64
	num  [2 + 3]float64 // the temperatures, set, blade and soak
	used int
}

// newRoom gives an empty sample of n channels; boards with more than two are few.
func newRoom(n int) *sampleRoom {
	r := &sampleRoom{}
	if n <= len(r.raw) {
		r.s.Raw, r.s.HasRaw, r.s.Temp = r.raw[:n], r.has[:n], r.temp[:n]
		return r
	}
	r.s.Raw, r.s.HasRaw, r.s.Temp = make([]uint32, n), make([]bool, n), make([]*float64, n)
	return r
}

// number gives v a place.
func (r *sampleRoom) number(v float64) *float64 {
	if r.used == len(r.num) {
		return &v
	}
	p := &r.num[r.used]
	*p, r.used = v, r.used+1
	return p
}
