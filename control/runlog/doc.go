// Package runlog keeps the run file: one file a run, newline-delimited JSON, written so that
// it can be trusted after a kill, a full disk or a power cut, and read back fast.
//
// # Lines
//
// Line 1 is the head, {"n":0,"record":"head","key_units":{…},…,"h":"…"}, with the schema
// version and the fields of control.Info. Then come samples and events in the order of time:
//
//	{"n":7,"t_s":1.5,"raw":"0C601900,0C641900","t1_c":198.21,"t2_c":199.3,"set_c":204.44,
//	 "blade_c":150.2,"duty_pm":312,"soak_s":12.25,"h":"0a1b2c"}
//	{"n":8,"t_s":1.5,"event":"step","step":1,"h":"3d4e5f"}
//
// (each on one line). n counts the lines from 0 without a hole. t_s is the run's own time. raw
// has the chips' words, channel 1 first, in eight upper-case hex digits; a channel without one
// is empty between its commas. tN_c is the believed temperature of channel N. The keys of a
// sample always stand in this order; all but n, t_s, duty_pm and h may be absent. A value that
// is not known is absent, never null.
//
// # Hash
//
// h is the first six hex digits of SHA-256 over the six digits of the line before (nothing for
// the head) and this line's bytes up to, not including, the comma before "h". So a line that
// was changed, lost, added or moved breaks the chain there. testdata/runlog/chain.py computes
// an example with Python's hashlib. Six digits find accidents, not a forger.
//
// # Rounding
//
// A sample of two channels must fit in 160 bytes with its newline, in a run of up to 27 hours:
// time is in milliseconds; temperatures have two decimals below 1000 °C and one from there up
// (the chip counts in 0.25 °C); the modelled blade has one and none; soak has hundredths of a
// second. Zeros at the end are not written. Rounding is to the nearest, ties to even, of the
// value times a power of ten; what is read back is that whole number divided by the same power
// of ten, which is the float64 nearest to the decimal text, so that any JSON reader gets the
// same bits. Round gives a sample those very values: who shows a run live applies it (or
// RoundRecord or RoundOwn) once, before both the screen and the log, and a replay then shows the
// same bits. Rounding twice changes nothing.
//
// # What survives
//
// Each record is one write(2), at once. The file is synced every 5 s of the run's time and at
// once after an alarm, a trip or the end. A write that fails is cut off again; from then on
// the newest 2 h of records wait in memory (at most 16 MiB) and are tried every 10 s of the
// run's time. Whatever is lost stands in the file as an event "lost": code says where ("disk",
// "queue", "refused", "recovered"), word how many records, span_s from the first to the last
// of them on the run's clock.
package runlog

// Schema is the version of the run file that this package writes and reads.
const Schema = 1
