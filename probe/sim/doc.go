// Package sim is a simulated board of our line protocol with an oven of probe/plant behind
// it. It has no clock: each Grant takes the host's bytes, advances 250 ms of simulated time
// and gives the board's lines. The same seed and the same host bytes give the same lines,
// over the in-memory stream (Memory) and over a pseudo-terminal (Pty).
//
// A host does this, in one order: open the link; call Opened, which resets the board as DTR
// does on a real one; write; Grant(bytes written to this opening); read as many bytes as
// Grant said; and so on. While the cable is out Grant says one byte more than came, so that a
// reader that waits for it meets the end of the stream. While nothing is open the board talks
// into the void and Grant says 0.
//
// Within a Grant from t to t+250 ms: the faults that begin or end at t; the host's lines, as
// if they had come at t; the heater, in whole mains cycles; one step of the oven; then at
// t+250 ms one conversion of each channel, the board's judgement of it, its dead man, and one
// line a channel.
//
// The high limit latches at one conversion above it. Latches are not kept through a restart,
// but for configuration, whose cause is.
package sim
