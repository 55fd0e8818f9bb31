package runlog

import (
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"strawline/control"
)

// arena hands out what a sample points to from larger pieces, so that a day of samples costs
// few allocations. What it handed out stays valid.
type arena struct {
	samples []control.Sample
	floats  []float64
	temps   []*float64
	words   []uint32
	has     []bool
}

// reset lets the pieces be used again; what was handed out must not be in use any more.
func (a *arena) reset() {
	a.samples, a.floats, a.temps = a.samples[:0], a.floats[:0], a.temps[:0]
	a.words, a.has = a.words[:0], a.has[:0]
}

// take gives n values of a piece.
func take[T any](piece *[]T, n int) []T {
	if n == 0 {
		return nil
	}
	if cap(*piece)-len(*piece) < n {
		*piece = make([]T, 0, max(1024, n))
	}
	from := len(*piece)
	*piece = (*piece)[:from+n]
	return (*piece)[from : from+n : from+n]
}

func (a *arena) float(v float64) *float64 {
	p := &take(&a.floats, 1)[0]
	*p = v
	return p
}

// cut takes prefix away from p if it stands there.
func cut(p []byte, prefix string) ([]byte, bool) {
	if len(p) >= len(prefix) && string(p[:len(prefix)]) == prefix {
		return p[len(prefix):], true
	}
	return p, false
}

// unseal splits a line, without its newline, before its hash.
func unseal(line []byte) (body, h []byte, ok bool) {
	at := len(line) - len(hashKey) - hashLen - len(hashEnd)
	if at < 0 || string(line[at:at+len(hashKey)]) != hashKey ||
		string(line[len(line)-len(hashEnd):]) != hashEnd {
		return nil, nil, false
	}
	h = line[at+len(hashKey) : len(line)-len(hashEnd)]
	for _, c := range h {
		if (c < '0' || c > '9') && (c < 'a' || c > 'f') {
			return nil, nil, false
		}
	}
	return line[:at], h, true
}

// number reads a line's running number and gives what follows behind the comma.
func number(body []byte) (n uint64, rest []byte, ok bool) {
	rest, ok = cut(body, `{"n":`)
	if !ok {
		return 0, body, false
	}
	v, rest, ok := count(rest)
	if !ok {
		return 0, body, false
	}
	rest, ok = cut(rest, ",")
	return uint64(v), rest, ok
}

// decodeRecord reads a line's fields: what stands between the running number and the hash.
func decodeRecord(fields []byte, a *arena) (control.Record, error) {
	rest, ok := cut(fields, `"t_s":`)
	if !ok {
		return control.Record{}, at(fields, "t_s must follow n")
	}
	units, decimals, neg, rest, ok := decimal(rest)
	if !ok || neg || decimals > 3 {
		return control.Record{}, at(fields, "t_s is no time in seconds and milliseconds")
	}
	for ; decimals < 3; decimals++ {
		units *= 10
	}
	if units >= mostTime.Milliseconds() {
		return control.Record{}, at(fields, "t_s is too long")
	}
	t := time.Duration(units) * time.Millisecond
	if _, is := cut(rest, `,"event":`); is {
		e, err := decodeEvent(rest[1:])
		e.T = t
		return control.Record{Event: &e}, err
	}
	s := &take(&a.samples, 1)[0]
	*s = control.Sample{T: t}
	return control.Record{Sample: s}, decodeSample(rest, s, a)
}

// decodeSample reads a sample's fields behind t_s. It takes only what the encoder writes: the
// known keys, each at most once, in their order.
func decodeSample(p []byte, s *control.Sample, a *arena) error {
	ok := true
	if rest, is := cut(p, `,"raw":"`); is {
		if p, ok = decodeWords(rest, s, a); !ok {
			return at(rest, "raw has no list of words in eight upper-case hex digits")
		}
	}
	p, err := decodeTemps(p, s, a)
	if err != nil {
		return err
	}
	if p, err = optional(p, `,"set_c":`, &s.Set, a); err != nil {
		return err
	}
	if p, err = optional(p, `,"blade_c":`, &s.Blade, a); err != nil {
		return err
	}
	rest, is := cut(p, `,"duty_pm":`)
	if !is {
		return at(p, "no field of a sample, or not at its place")
	}
	duty, rest, ok := count(rest)
	if !ok || duty > 1000 {
		return at(p, "duty_pm is no whole number from 0 to 1000")
	}
	s.Duty = int(duty)
	if p, err = optional(rest, `,"soak_s":`, &s.Soak, a); err != nil {
		return err
	}
	if len(p) > 0 {
		return at(p, "no field of a sample, or not at its place")
	}
	return nil
}

func optional(p []byte, key string, to **float64, a *arena) ([]byte, error) {
	rest, is := cut(p, key)
	if !is {
		return p, nil
	}
	v, rest, ok := float(rest)
	if !ok {
		return p, at(p, "no plain decimal number")
	}
	*to = a.float(v)
	return rest, nil
}

// decodeTemps reads t1_c to t8_c, as many as there are.
func decodeTemps(p []byte, s *control.Sample, a *arena) ([]byte, error) {
	var list [mostChannels]*float64
	n := 0
	for len(p) > 8 && p[2] == 't' && string(p[:3]) == `,"t` && string(p[4:8]) == `_c":` {
		ch := int(p[3]) - '0'
		if ch <= n || ch > mostChannels {
			return p, at(p, "channels must rise from 1 to 8")
		}
		v, rest, ok := float(p[8:])
		if !ok {
			return p, at(p, "no plain decimal number")
		}
		list[ch-1] = a.float(v)
		n, p = ch, rest
	}
	if n > 0 {
		s.Temp = take(&a.temps, n)
		copy(s.Temp, list[:n])
	}
	return p, nil
}

// decodeWords reads the chips' words behind the opening quote and takes the closing one.
func decodeWords(p []byte, s *control.Sample, a *arena) ([]byte, bool) {
	var words [mostChannels]uint32
	var has [mostChannels]bool
	for n := range mostChannels {
		if len(p) > 8 && p[0] != ',' {
			for _, c := range p[:8] {
				switch {
				case c >= '0' && c <= '9':
					words[n] = words[n]<<4 | uint32(c-'0')
				case c >= 'A' && c <= 'F':
					words[n] = words[n]<<4 | uint32(c-'A'+10)
				default:
					return p, false
				}
			}
			has[n], p = true, p[8:]
		}
		if len(p) == 0 || p[0] != ',' && (p[0] != '"' || !has[n]) {
			return p, false
		}
		end := p[0] == '"'
		p = p[1:]
		if end {
			s.Raw, s.HasRaw = take(&a.words, n+1), take(&a.has, n+1)
			copy(s.Raw, words[:])
			copy(s.HasRaw, has[:])
			return p, true
		}
	}
	return p, false
}

// decodeEvent reads an event's fields; they are few, so encoding/json does it.
func decodeEvent(fields []byte) (e control.Event, err error) {
	text := append(append([]byte{'{'}, fields...), '}')
	if err = json.Unmarshal(text, &e); err != nil {
		return e, fmt.Errorf("no event: %w", err)
	}
	if e.Kind == "" {
		return e, errors.New("an event without a kind")
	}
	return e, nil
}

// at says what is wrong and shows where.
func at(p []byte, wrong string) error {
	if len(p) > 24 {
		p = p[:24]
	}
	return fmt.Errorf("%s, at %q", wrong, p)
}
