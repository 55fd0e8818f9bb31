// Package landing brings an oven from full power to its setpoint without passing it, and holds
// it there. It is arithmetic: time is a figure of the Input.
//
// Near the setpoint the oven is y' = K (q - w), Tau q' = u(t-Th) - q, with w the duty that holds
// it. A test gives these figures (Fit); the start from cold then tells of this very run where
// its steepest tangent leaves the beginning, how steeply it climbs for its duty, and so the load.
// An observer follows reading, heat on its way and load; the landing is a feedback of its state
// one dead time ahead. Behind it the observer's load is the integral for a while, since a cold
// case and blade take less and less; then a plain PID of SIMC's gains holds.
//
// The way comes from a design study of ours on simulated ovens, not from a real one. It was
// chosen while looking at reference ovens A and B and at random ones. Where air and walls answer
// on two time scales no single K exists: some such ovens pass their mark by more than 3 °C.
// Without a model the first landing is aimed low and the rest of the way gone slowly.
//
// Nothing here is a guard: limits, doubts and trips stand in control.
package landing
