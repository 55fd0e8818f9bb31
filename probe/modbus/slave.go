package modbus

// Mode is how a Slave answers.
type Mode uint8

// The modes. Each but the first is a way in which a real line goes wrong.
const (
	Answers     Mode = iota
	StaysQuiet       // says nothing
	AnswersLate      // keeps its reply until Release
	CutsShort        // leaves out the second half of its reply
	SpoilsCRC        // flips one bit of the check
	Refuses          // sends the exception in Refusal
	Poses            // answers under the next unit's address
	Wanders          // answers 03 to 04, and 04 to 03
)

// Slave is a simulated module: bytes of requests in, bytes of replies out, as a test or a
// simulated board puts it on a line. It answers 03 and 04; every other function it refuses with
// IllegalFunction, so that nothing can be written to it. It has no clock, so it finds requests by
// length and check alone.
type Slave struct {
	Unit    byte
	Holding []uint16 // registers of function 03, from wire address 0
	Input   []uint16 // of function 04
	Mode    Mode
	Refusal Exception // for Refuses; DeviceFailure unless set

	Asked uint64 // requests to this unit so far

	in   []byte
	held []byte
}

// Feed takes the next bytes of the line and gives what the module sends, nil if nothing. How the
// bytes are split changes nothing. Bytes that begin no request are passed over.
func (s *Slave) Feed(p []byte) []byte {
	var out []byte
	for _, b := range p {
		s.in = append(s.in, b)
		for len(s.in) > 0 {
			n, whole := requestIn(s.in)
			if n == 0 {
				s.in = s.in[1:]
				continue
			}
			if !whole {
				break
			}
			out = append(out, s.answer(s.in[:n])...)
			s.in = s.in[n:]
		}
	}
	return out
}

// Release gives the replies that a late module has kept, nil if none.
func (s *Slave) Release() []byte {
	p := s.held
	s.held = nil
	return p
}

// requestIn gives the length of the request at the beginning of p, 0 if none can begin there,
// and whether it is whole.
func requestIn(p []byte) (n int, whole bool) {
	n = requestBytes
	if len(p) >= 7 && p[1] == byte(WriteMultiple) {
		n = 9 + int(p[6])
	}
	if n > MaxFrame || p[0] > MaxUnit || len(p) >= 2 && p[1]&exceptionBit != 0 {
		return 0, false
	}
	if len(p) < n {
		return n, false
	}
	if CRC(p[:n]) != 0 {
		return 0, false
	}
	return n, true
}

func (s *Slave) answer(req []byte) []byte {
	if req[0] != s.Unit {
		return nil
	}
	s.Asked++
	out := s.reply(req)
	switch s.Mode {
	case StaysQuiet:
		return nil
	case AnswersLate:
		s.held = append(s.held, out...)
		return nil
	case CutsShort:
		return out[:len(out)/2]
	case SpoilsCRC:
		out[len(out)-1] ^= 0x10
	}
	return out
}

// reply makes the reply with its check.
func (s *Slave) reply(req []byte) []byte {
	unit, function := req[0], req[1]
	f, err := Decode(req)
	out := []byte{unit, function | exceptionBit}
	switch {
	case s.Mode == Refuses:
		e := s.Refusal
		if e == 0 {
			e = DeviceFailure
		}
		out = append(out, byte(e))
	case function != byte(ReadHolding) && function != byte(ReadInput):
		out = append(out, byte(IllegalFunction))
	case err != nil || f.Kind != KindRequest:
		out = append(out, byte(IllegalValue))
	default:
		out = s.registers(f)
	}
	if s.Mode == Poses {
		out[0]++
	}
	if s.Mode == Wanders {
		out[1] ^= byte(ReadHolding ^ ReadInput)
	}
	return appendCRC(out, 0)
}

func (s *Slave) registers(f Frame) []byte {
	from := s.Holding
	if f.Function == ReadInput {
		from = s.Input
	}
	end := int(f.Register) + int(f.Count)
	if end > len(from) {
		return []byte{f.Unit, byte(f.Function) | exceptionBit, byte(IllegalAddress)}
	}
	out := []byte{f.Unit, byte(f.Function), byte(2 * f.Count)}
	for _, r := range from[f.Register:end] {
		out = append(out, byte(r>>8), byte(r))
	}
	return out
}
