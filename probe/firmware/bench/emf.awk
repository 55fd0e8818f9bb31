# Makes C of the reference function of type K in testdata/thermocouple/its90_coefficients.json, so
# that no coefficient is typed again: awk -f emf.awk FILE >emf.h
BEGIN {
	print "// Made by emf.awk from its90_coefficients.json (NIST Monograph 175, SRD 60). mV of degC."
	print "static const struct { double from, to; int count; double c[16]; } emf_ranges[] = {"
}
/^  "[A-Z]": \{/ { type = substr($1, 2, 1); part = "" }
type != "K" { next }
/"forward": \[/ { part = "forward" }
/"inverse": \[/ { part = "inverse" }
/"a[012]": -?[0-9]/ {
	key = $1
	value = $2
	gsub(/[":]/, "", key)
	gsub(/,/, "", value)
	a[key] = value
}
part != "forward" { next }
/"t_min_c":/ { gsub(/[^-0-9.e]/, "", $2); from = $2 }
/"t_max_c":/ { gsub(/[^-0-9.e]/, "", $2); to = $2 }
/"c": \[/ { reading = 1; n = 0; list = ""; next }
reading && /\]/ { reading = 0; rows++; printf "\t{%s, %s, %d, {%s}},\n", from, to, n, list; next }
reading { value = $1; gsub(/,/, "", value); list = list (n++ ? ", " : "") value }
END {
	print "};"
	if (rows != 2 || !("a0" in a) || !("a1" in a) || !("a2" in a)) {
		print "#error \"its90_coefficients.json has no type K\""
		exit 1
	}
	printf "static const double emf_a0 = %s, emf_a1 = %s, emf_a2 = %s;\n", a["a0"], a["a1"], a["a2"]
}
