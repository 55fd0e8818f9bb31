# Bounds the stack: the deepest way of calls from main, and the deepest interrupt on top of it
# (interrupts do not nest). Reads the compiler's .su rows, which have the return address in them,
# then the listing of avr-objdump -d. A function without a .su row is one of the library's, in
# assembler: its pushes and return address are counted, and it may have no frame. It fails on a
# call whose target is not known, a circle, and a frame of changing size.
#
#   awk -f stack.awk SU_ROWS LISTING
function fail(text) { print "stack: " text; failed = 1; exit 1 }

function deep(f, way,    i, n, list, most, d) {
	if (f in depth) return depth[f]
	if (index(way, " " f " ")) {
		if (loop(way, f)) return 0
		fail("a circle: " way f)
	}
	n = split(calls[f], list, " ")
	for (i = 1; i <= n; i++) {
		d = deep(list[i], way f " ")
		if (d > most) { most = d; next_of[f] = list[i] }
	}
	if (!(f in frame)) {
		if (f in moves) fail(f " has a frame that no .su row tells")
		frame[f] = pushes[f] + 2
	}
	return depth[f] = frame[f] + most
}

# A way round through labels of the library alone is a loop, not a function within itself.
function loop(way, f,    i, n, list) {
	n = split(substr(way, index(way, " " f " ")), list, " ")
	for (i = 1; i <= n; i++) if (list[i] in told) return 0
	return 1
}

function edge(from, to) {
	if (to == from || (from, to) in seen) return
	seen[from, to] = 1
	calls[from] = calls[from] " " to
}

function path(f,    text) {
	for (text = f " " frame[f]; f in next_of; text = text ", " f " " frame[f]) f = next_of[f]
	return text
}

FNR == NR {
	split($1, place, ":")
	if ($3 != "static") fail(place[4] " has a stack of changing size")
	frame[place[4]] = $2
	told[place[4]] = 1
	next
}
/^[0-9a-f]+ <.*>:$/ {
	before = name
	name = $2
	gsub(/[<>:]/, "", name)
	# A label of the library may be run into from above.
	if (before != "" && last !~ /^(ret|reti|rjmp|jmp|ijmp)$/ && !(name in told)) edge(before, name)
	known[name] = 1
	next
}
/^ *[0-9a-f]+:\t/ { split($0, column, "\t"); last = column[3] }
/\t(icall|ijmp|eicall|eijmp)/ { if (name != "__tablejump2__") fail(name " calls what is not known") }
/\tpush\t/ { pushes[name]++ }
/\tout\t0x3d/ { moves[name] = 1 }
/; 0x[0-9a-f]+ <[^+>]*>/ {
	target = $0
	sub(/.*</, "", target)
	sub(/>.*/, "", target)
	edge(name, target)
}
END {
	if (failed) exit 1
	if (!("main" in known)) fail("no main in the listing")
	bound = deep("main", " ")
	deepest = ""
	for (f in known)
		if (f ~ /^__vector_[0-9]+$/ && (deepest == "" || deep(f, " ") > deep(deepest, " ")))
			deepest = f
	if (deepest == "") fail("no interrupt in the listing")
	bound += deep(deepest, " ")
	print "way " path("main")
	print "interrupt " path(deepest)
	print "bound " bound
}
