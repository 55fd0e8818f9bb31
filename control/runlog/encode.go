package runlog

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strconv"
	"time"

	"strawline/control"
)

const (
	hashLen  = 6 // hex digits on a line
	hashKey  = `,"h":"`
	hashEnd  = `"}`
	maxLine  = 1 << 20 // longest line, bytes with its newline
	mostTime = 1e9 * time.Second
	headKeys = `"record":"head","key_units":` +
		`{"c":"degree Celsius","s":"second","pm":"per mille","mm":"millimetre"},`
)

// digits are the hash of a line.
type digits [hashLen]byte

// chain hashes body, a line up to the comma before its hash, behind the digits of the line
// before (none for the head). It uses and returns scratch so that a caller can keep it.
func chain(scratch, prev, body []byte) (h digits, kept []byte) {
	scratch = append(append(scratch[:0], prev...), body...)
	sum := sha256.Sum256(scratch)
	hex.Encode(h[:], sum[:hashLen/2])
	return h, scratch
}

// seal makes a whole line of a record's fields: its number before them, its hash behind.
func seal(dst []byte, n uint64, fields, prev, scratch []byte) (line []byte, h digits,
	kept []byte) {
	dst = append(dst[:0], `{"n":`...)
	dst = strconv.AppendUint(dst, n, 10)
	dst = append(dst, ',')
	dst = append(dst, fields...)
	h, kept = chain(scratch, prev, dst)
	dst = append(dst, hashKey...)
	dst = append(dst, h[:]...)
	return append(dst, hashEnd+"\n"...), h, kept
}

func refuse(format string, args ...any) error {
	return fmt.Errorf("%w: %s", ErrRefused, fmt.Sprintf(format, args...))
}

// appendFields writes a record without its number, its hash and its braces.
func appendFields(dst []byte, r control.Record) ([]byte, error) {
	switch {
	case r.Sample != nil && r.Event == nil:
		return appendSample(dst, r.Sample)
	case r.Event != nil && r.Sample == nil:
		return appendEvent(dst, r.Event)
	}
	return dst, refuse("it must have a sample or an event, and not both")
}

func appendTime(dst []byte, t time.Duration) ([]byte, error) {
	t = t.Round(time.Millisecond)
	if t < 0 || t >= mostTime {
		return dst, refuse("its time %v is before the start or too long after it", t)
	}
	return appendFixed(append(dst, `"t_s":`...), t.Milliseconds(), 3), nil
}

// appendSample writes a sample's fields without reflection.
func appendSample(dst []byte, s *control.Sample) ([]byte, error) {
	dst, err := appendTime(dst, s.T)
	if err != nil {
		return dst, err
	}
	if len(s.Raw) > mostChannels || len(s.Temp) > mostChannels {
		return dst, refuse("it has more than %d channels", mostChannels)
	}
	dst = appendRaw(dst, s)
	for i, t := range s.Temp {
		if t == nil {
			continue
		}
		key := [...]string{"t1_c", "t2_c", "t3_c", "t4_c", "t5_c", "t6_c", "t7_c", "t8_c"}[i]
		if dst, err = appendValue(dst, key, t, tempDecimals); err != nil {
			return dst, err
		}
	}
	if dst, err = appendValue(dst, "set_c", s.Set, tempDecimals); err != nil {
		return dst, err
	}
	if dst, err = appendValue(dst, "blade_c", s.Blade, bladeDecimals); err != nil {
		return dst, err
	}
	if s.Duty < 0 || s.Duty > 1000 {
		return dst, refuse("duty_pm is %d, not within 0 to 1000", s.Duty)
	}
	dst = strconv.AppendInt(append(dst, `,"duty_pm":`...), int64(s.Duty), 10)
	return appendValue(dst, "soak_s", s.Soak, soakDecimals)
}

func appendValue(dst []byte, key string, v *float64, decimals func(float64) int) ([]byte, error) {
	if v == nil {
		return dst, nil
	}
	places := decimals(*v)
	units, ok := fixed(*v, places)
	if !ok {
		return dst, refuse("%s is %v, no number that a run file can hold", key, *v)
	}
	dst = append(append(append(dst, `,"`...), key...), `":`...)
	return appendFixed(dst, units, places), nil
}

// appendRaw writes the chips' words up to the last channel that has one.
func appendRaw(dst []byte, s *control.Sample) []byte {
	last := len(s.Raw) - 1
	for last >= 0 && !hasWord(s, last) {
		last--
	}
	if last < 0 {
		return dst
	}
	dst = append(dst, `,"raw":"`...)
	for i := range last + 1 {
		if i > 0 {
			dst = append(dst, ',')
		}
		for shift := 28; hasWord(s, i) && shift >= 0; shift -= 4 {
			dst = append(dst, "0123456789ABCDEF"[s.Raw[i]>>shift&15])
		}
	}
	return append(dst, '"')
}

func appendEvent(dst []byte, e *control.Event) ([]byte, error) {
	dst, err := appendTime(dst, e.T)
	if err != nil {
		return dst, err
	}
	if e.Kind == "" {
		return dst, refuse("an event without a kind")
	}
	body, err := inner(cleanEvent(e))
	if err != nil {
		return dst, refuse("event %q: %v", e.Kind, err)
	}
	return append(append(dst, ','), body...), nil
}

// appendHead writes the head's fields.
func appendHead(dst []byte, info control.Info) ([]byte, error) {
	body, err := inner(info)
	if err != nil {
		return dst, refuse("the head: %v", err)
	}
	return append(append(dst, headKeys...), body...), nil
}

// inner gives the JSON of a struct without its braces.
func inner(v any) ([]byte, error) {
	var buf bytes.Buffer
	enc := json.NewEncoder(&buf)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return nil, err
	}
	b := bytes.TrimSpace(buf.Bytes())
	if len(b) > maxLine-100 {
		return nil, fmt.Errorf("it is %d bytes long, more than a line may have", len(b))
	}
	return b[1 : len(b)-1], nil
}
