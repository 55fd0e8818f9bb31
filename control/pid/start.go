package pid

// Preset starts the law without a bump: the next Step at the same setpoint r and measurement y
// (°C), with no feed-forward, wants u. A figure that is not finite makes a State that Step
// refuses.
func Preset(cfg Config, u, r, y float64) State { return PresetForward(cfg, u, 0, r, y) }

// PresetForward is Preset where the next Step has the feed-forward ff, in units of the output.
func PresetForward(cfg Config, u, ff, r, y float64) State {
	return State{
		Begun: true,
		I:     u - ff - cfg.K*(cfg.B*r-y),
		Yf:    y,
		R:     r,
		V:     u,
		U:     u,
	}
}

// Retune goes over from the tuning was to the tuning next without a bump: the output that the
// last sample gave is what the same sample would give with the new gains. It needs no setpoint
// or measurement of its own because the State keeps those of its last sample.
func Retune(was, next Config, st State) State {
	if !st.Begun {
		return st
	}
	d := 0.0
	if was.K*was.Td > 0 {
		d = st.D * (next.K * next.Td) / (was.K * was.Td)
	}
	pWas := was.K * (was.B*st.R - st.Yf)
	pNext := next.K * (next.B*st.R - st.Yf)
	st.I += pWas + st.D - pNext - d
	st.D = d
	return st
}
