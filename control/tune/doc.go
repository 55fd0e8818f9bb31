// Package tune finds out how an oven answers its heater and what gains follow from it. A Record
// of readings and duties goes in, a Model comes out, or a Refusal that says why the record does
// not carry one; from the Model come the gains of the known tuning rules, the margins of the
// loop that each makes, what it would do, and a recommendation. All of it is arithmetic: time
// is a figure of the record, in seconds; temperatures are in °C and duties from 0 to 1.
//
//	Integrating   y' = Kv u(t-L)            all that a short heat-up shows
//	First         K exp(-Ls)/(Ts+1)         one lag and a dead time
//	Second        K exp(-Ls)/((Ts+1)(T2s+1))
//
// Three tests give a model: ColdStart needs nothing but a heat-up at constant duty, StepTest a
// duty that is moved once from a steady state, RelayTest the swings between two duties that the
// state machine Relay makes. All three fit the model's answer to the duties as they were, by
// least squares over the whole record; the older ways that read a few points off the curve give
// starting values and a second opinion.
package tune
