package runlog

import (
	"math"
	"strconv"
)

// mostUnits bounds what a decimal may count: 15 digits, all exact in a float64.
const mostUnits = 1e15

func pow10(decimals int) float64 {
	return [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13,
		1e14, 1e15}[decimals]
}

// tempDecimals keeps a temperature within six characters.
func tempDecimals(c float64) int {
	if math.Abs(c) < 1000 {
		return 2
	}
	return 1
}

// bladeDecimals keeps a modelled temperature within five characters.
func bladeDecimals(c float64) int { return tempDecimals(c) - 1 }

func soakDecimals(float64) int { return 2 }

// fixed counts v in units of its last decimal; ok is false if v is not finite or too big.
func fixed(v float64, decimals int) (units int64, ok bool) {
	u := math.RoundToEven(v * pow10(decimals))
	if !(math.Abs(u) < mostUnits) { // so written, NaN fails too
		return 0, false
	}
	return int64(u), true
}

// rounded gives v as a reader of the file will see it.
func rounded(v float64, decimals int) float64 {
	u, ok := fixed(v, decimals)
	if !ok {
		return v // the encoder refuses it
	}
	return float64(u) / pow10(decimals)
}

// appendFixed writes units of the last decimal as a decimal without zeros at its end.
func appendFixed(dst []byte, units int64, decimals int) []byte {
	for decimals > 0 && units%10 == 0 {
		units /= 10
		decimals--
	}
	if units < 0 {
		dst, units = append(dst, '-'), -units
	}
	scale := int64(pow10(decimals))
	dst = strconv.AppendInt(dst, units/scale, 10)
	if decimals == 0 {
		return dst
	}
	dst = append(dst, '.')
	frac := units % scale
	for scale /= 10; scale > 0; scale /= 10 {
		dst = append(dst, byte('0'+frac/scale%10))
	}
	return dst
}

// decimal reads a JSON number without exponent and of at most 15 digits from the start of p:
// its digits as a whole number without sign, how many of them are decimals, and what follows.
// ok is false if no such number stands there.
func decimal(p []byte) (units int64, decimals int, neg bool, rest []byte, ok bool) {
	i := 0
	if i < len(p) && p[i] == '-' {
		neg = true
		i++
	}
	first, point := i, -1
	for ; i < len(p); i++ {
		c := p[i]
		if c-'0' <= 9 {
			units = units*10 + int64(c-'0')
			if i-first > 15 {
				return 0, 0, false, p, false
			}
			continue
		}
		if c != '.' || point >= 0 {
			break
		}
		point = i
	}
	whole, digits := i-first, i-first
	if point >= 0 {
		whole, decimals = point-first, i-point-1
		digits--
		if decimals == 0 {
			return 0, 0, false, p, false
		}
	}
	if whole == 0 || whole > 1 && p[first] == '0' || digits > 15 ||
		i < len(p) && (p[i] == 'e' || p[i] == 'E') {
		return 0, 0, false, p, false
	}
	return units, decimals, neg, p[i:], true
}

// float reads a number as decimal does. The quotient of two exact float64 is the float64
// nearest to the text, as encoding/json would find it.
func float(p []byte) (v float64, rest []byte, ok bool) {
	units, decimals, neg, rest, ok := decimal(p)
	if !ok {
		return 0, p, false
	}
	v = float64(units) / pow10(decimals)
	if neg {
		v = -v
	}
	return v, rest, true
}

// count reads a whole number without sign.
func count(p []byte) (v int64, rest []byte, ok bool) {
	v, decimals, neg, rest, ok := decimal(p)
	if !ok || decimals > 0 || neg {
		return 0, p, false
	}
	return v, rest, true
}
