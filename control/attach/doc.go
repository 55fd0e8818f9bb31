// Package attach lets screens in other processes watch a keeper's runs and ask of them, over a
// unix socket in a folder that only its owner may enter.
//
// # The lines
//
// Both sides write JSON objects, one a line, at most 1 MiB long. Whoever connects speaks first:
//
//	{"hello":{"version":1,"build":"…","name":"pts/3"}}
//	{"hello":{"version":1,"build":"…","name":"/home/ann/.config/strawline/shop.toml","runs":[…]}}
//
// A side that speaks another version is told so and left. Then comes what is wanted, once:
// {"start":{…}} gives a job to the keeper, answered by {"answer":{"run":"kitchen"}} or by an
// error with its exit code; {"watch":"kitchen"} makes the connection a screen of that run.
//
// A screen first gets the run's past, thinned to min and max per 10 s, then Snapshots as they
// come. Before the first Snapshot of each ten seconds it gets the spans that have changed since
// the last time, so that one that was too slow for some Snapshots misses no spike. It sends
// {"ask":{…}} with a number, which the answer repeats. {"lease":{…}} says who may raise the heat
// of this run; {"take":true} takes that over. {"over":{…}} says how the run ended.
//
// The form is not meant for other programs: it follows control.Snapshot, and its version is
// raised whenever an older program would misread it.
//
// # Who may
//
// The folder is 0700, and on Linux and macOS the kernel also says who connects: another user is
// not answered. Stop, heat off, silence, acknowledge, notes and the answer to the end are taken
// from any screen. What may raise the heat or change the profile needs the lease of the run: the
// first screen that asks so has it until it leaves or another takes it over.
//
// # Slow screens
//
// The run never waits: each screen has a mailbox of one place. A screen that takes nothing for
// WriteLimit is dropped, and begins anew with the past when it comes back.
package attach
