# The closing line of .ci/long crash, from the lines that its parts have left.
function after(words, s) {
	if (!match($0, words " *[0-9.]+")) return 0
	s = substr($0, RSTART, RLENGTH)
	sub(words, "", s)
	return s + 0
}
function more(a, b) { return a > b ? a : b }
/: keepers killed:/ {
	keepers += after("killed:"); taken += after("taken up"); on += after("output on")
	went += after("gone on with"); soaks += after("soaks recounted")
	not += after("moment not reached"); missed = more(missed, after("in the file at most"))
	behind = more(behind, after("last record at most")); heat = more(heat, after("until at most"))
}
/: screens ended:/ { screens += after("ended:"); apart = more(apart, after("at most")) }
/: writers killed:/ { writers += after("killed:") }
/: lists of runs killed/ { lists += after("writing:") }
/: found files killed/ { found += after("writing:") }
/: sleeps and jumps:/ { sleeps += after("jumps:"); trips += after("(true|false);") }
/^disk: whole/ { once = after("whole,") }
/^[0-9]+: whole/ { parts++ }
END {
	printf "crash: %d keepers killed (%d at a moment not reached), %d with the output on, ", keepers,
		not, on
	printf "heat until at most %.2f s after, last record at most %.2f s before, ", heat, behind
	printf "shown and lost at most %.2f s; ", missed
	printf "%d times a run taken up tripped, %d gone on with by a person, %d soaks recounted; ",
		taken, went, soaks
	printf "%d screens ended, steps at most %.2f s apart; %d writers, %d lists of runs, ", screens,
		apart, writers, lists
	printf "%d found files killed in writing; %d sleeps and jumps, %d trips; ", found, sleeps, trips
	printf "disk, sockets, ports: %d tests; nothing lost, counted or heated that may not be; ", once
	printf "seeds 1001 to %d, %s, commit %s\n", 1000 + parts, date, commit
}
