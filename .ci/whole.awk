# The lines of the whole runs' parts, summed: a line a row, then the closing line. It fails where
# one that needs a person was missed or late, or a sound oven tripped.
/^row / {
	key = substr($1, 5)
	split(key, what, ": ")
	if (!(key in n)) order[++keys] = key
	if (!(what[1] in seen)) { seen[what[1]]; rows++ }
	for (i = 2; i <= NF; i++) {
		split($i, w, " ")
		if (w[1] == "longest") {
			longest[key] = w[2] > longest[key] ? w[2] : longest[key]
			by[key] = w[5]
		} else if (w[1] == "output") {
			off[key] = w[4] > off[key] ? w[4] : off[key]
		} else {
			sum[key, w[1]] += w[2]
			all[w[1]] += w[2]
		}
	}
	n[key] = sum[key, "injected"]
}
/^clean / {
	for (i = 1; i <= NF; i++) {
		split($i, w, " ")
		clean[w[1]] += w[2]
	}
}
/^alarm / { split($0, w, " "); alarm[w[2]] += w[3] }
/^message / { split($1, w, " "); message[$2] += w[2] }
END {
	for (i = 1; i <= keys; i++) {
		k = order[i]
		away = off[k] > 0 ? sprintf(", output off after %.2f s", off[k]) : ""
		told = k ~ /^(door opened|mains|slow wander)/
		if (told) untold += sum[k, "missed"] + sum[k, "late"]
		else bad += sum[k, "missed"] + sum[k, "late"]
		printf "  %s: %d, missed %d, late %d, misnamed %d, longest %.2f s of %s s%s\n", k, n[k],
			sum[k, "missed"], sum[k, "late"], sum[k, "misnamed"], longest[k], by[k], away
	}
	list = ""
	for (a in alarm) list = list sprintf(", %d %s", alarm[a], a)
	for (m in message) printf "  clean: %d times %s\n", message[m], m
	printf "whole: %d injections in %d rows (%d ways), %d missed or late, %d messages late, ",
		all["injected"], rows, keys, bad, untold
	printf "%d misnamed, %d trips beside them; ", all["misnamed"], all["before"]
	printf "%.0f clean hours, %d trips, %d doubts, alarms%s, ", clean["clean"], clean["trips"],
		clean["doubts"], list == "" ? " none" : substr(list, 2)
	printf "%d within ten minutes of another, %d chattered; ", clean["crowded"], clean["chatter"]
	printf "seeds 6001 to 6020, %s, commit %s\n", date, commit
	exit (bad + clean["trips"] + clean["doubts"] > 0)
}
