package control

import (
	"strawline/profiles"
	"strawline/profiles/steel"
)

// fits takes a sample into the fit of the model to a blade that a probe touches. It counts only
// while the blade is in: in a ramp or a soak behind the wait that it went in by.
func (v *View) fits(sm *Sample) {
	s, d := &v.s, &v.dose
	b := s.Info.Blade
	if d.by != DoseMeasured || b == nil || b.ThickMM <= 0 || s.Info.Test != nil {
		return
	}
	probe := s.Channels[d.probe]
	in := d.in && s.Step < len(s.Steps) && s.Phase == PhaseRunning &&
		(s.Steps[s.Step].Kind == profiles.Ramp || s.Steps[s.Step].Kind == profiles.Soak)
	if !in || !probe.Good || !s.HasTemp {
		v.fit.Break()
		return
	}
	v.fit.Add(b.plate(), s.Temp, probe.Temp, sm.T)
}

// Fit gives what the records so far say of the model of the blade, where a probe touches it;
// without one it has nothing. Its convection is that for the blade's thickness and finish.
func (v *View) Fit() steel.Fit { return v.fit }

// Fit is that of the run so far.
func (e *Engine) Fit() steel.Fit { return e.view.fit }
