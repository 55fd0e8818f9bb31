// Package control is the engine of a run: where it is in its profile, the soak clock, the
// loop's duty, doubt and trip, and the Snapshot that a screen shows. It is arithmetic: time
// and readings come in as data, it asks no clock and starts no goroutine.
//
// Off is the resting state. Duty is above 0 only on a good reading, an unlatched answer of the
// board and a running step, all younger than 1.5 s. This software controls heat and conforms
// to no safety standard: an independent over-temperature cut-out is the person's to fit.
package control
