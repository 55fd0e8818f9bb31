package sim

// window spreads the duty over a window of mains cycles. The cycles that are on come first;
// what rounding leaves over, below one cycle, goes into the next window.
type window struct {
	at, used int // cycles of this window begun, and those that were on
	carry    int // thousandths of a cycle, 0 to 999
}

// cycle begins a mains cycle in a window of n and reports whether the output is on in it. A
// new duty counts at once, for the whole of the window that is under way. Heat that could not
// be given because enabled was false is not made up for in a later window.
func (w *window) cycle(n, perMille int, enabled bool) bool {
	if w.at >= n {
		w.carry = max(0, min(perMille*n+w.carry-1000*w.used, 999))
		w.at, w.used = 0, 0
	}
	if perMille == 0 {
		w.carry = 0
	}
	on := enabled && 1000*(w.used+1) <= perMille*n+w.carry
	w.at++
	if on {
		w.used++
	}
	return on
}
