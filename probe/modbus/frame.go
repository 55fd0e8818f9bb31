package modbus

import (
	"errors"
	"fmt"
)

// Exception is the code by which a unit refuses a request.
type Exception byte

// The codes (from memory, compared with the lists of two public implementations).
const (
	IllegalFunction Exception = 0x01
	IllegalAddress  Exception = 0x02
	IllegalValue    Exception = 0x03
	DeviceFailure   Exception = 0x04
	Acknowledged    Exception = 0x05 // taken, and needs longer
	Busy            Exception = 0x06
	MemoryParity    Exception = 0x08
	GatewayPath     Exception = 0x0A
	GatewayNoAnswer Exception = 0x0B
)

// String gives the code's name, such as "illegal address".
func (e Exception) String() string {
	switch e {
	case IllegalFunction:
		return "illegal function"
	case IllegalAddress:
		return "illegal address"
	case IllegalValue:
		return "illegal value"
	case DeviceFailure:
		return "device failure"
	case Acknowledged:
		return "acknowledged, not done yet"
	case Busy:
		return "device busy"
	case MemoryParity:
		return "memory parity error"
	case GatewayPath:
		return "no path through the gateway"
	case GatewayNoAnswer:
		return "no answer behind the gateway"
	}
	return fmt.Sprintf("unknown exception %02X", byte(e))
}

// Kind says which way a frame goes.
type Kind uint8

// The kinds. A request to write one register and the reply to it are the same bytes.
const (
	KindRequest Kind = iota + 1
	KindReply
	KindEither // function 06
	KindException
)

// Frame is one whole frame taken apart, for looking at a line. It has no way back to bytes.
type Frame struct {
	Unit      byte
	Function  Function // without the exception bit
	Kind      Kind
	Register  uint16    // of a request, and of the reply to a write
	Count     uint16    // registers asked for, read or written
	Data      []byte    // the registers' bytes, high byte first; part of the bytes given
	Exception Exception // of an exception
}

// What is wrong with a whole frame.
var (
	ErrCRC  = errors.New("wrong check")
	ErrForm = errors.New("not a frame that is known here")
)

// Decode takes one whole frame apart, ErrCRC or ErrForm if it is none. Requests and replies of
// 03 and 04 are told apart by their length: 8 bytes, or an odd number.
func Decode(p []byte) (Frame, error) {
	if len(p) < exceptionBytes || len(p) > MaxFrame {
		return Frame{}, ErrForm
	}
	if CRC(p) != 0 {
		return Frame{}, ErrCRC
	}
	f := Frame{Unit: p[0], Function: Function(p[1] &^ exceptionBit)}
	body := p[2 : len(p)-2]
	ok := f.Unit <= MaxUnit
	switch {
	case p[1]&exceptionBit != 0:
		f.Kind, f.Exception = KindException, Exception(body[0])
		ok = ok && len(body) == 1 && f.Exception != 0 && f.Function != 0
	case f.Function == ReadHolding || f.Function == ReadInput:
		ok = ok && f.read(body)
	case f.Function == WriteOne:
		ok = ok && len(body) == 4
		if ok {
			f.Kind, f.Register, f.Count, f.Data = KindEither, word(body), 1, body[2:]
		}
	case f.Function == WriteMultiple:
		ok = ok && f.written(body)
	default:
		ok = false
	}
	if !ok {
		return Frame{}, ErrForm
	}
	return f, nil
}

func (f *Frame) read(body []byte) bool {
	if len(body) == 4 {
		f.Kind, f.Register, f.Count = KindRequest, word(body), word(body[2:])
		return f.Count >= 1 && f.Count <= MaxCount
	}
	f.Kind, f.Count, f.Data = KindReply, uint16(body[0]/2), body[1:]
	return f.Count >= 1 && f.Count <= MaxCount && len(f.Data) == int(body[0]) && body[0]%2 == 0
}

func (f *Frame) written(body []byte) bool {
	const mostWritten = 123
	if len(body) < 4 {
		return false
	}
	f.Kind, f.Register, f.Count = KindReply, word(body), word(body[2:])
	if len(body) > 4 {
		f.Kind, f.Data = KindRequest, body[5:]
		if int(body[4]) != len(f.Data) || len(f.Data) != 2*int(f.Count) {
			return false
		}
	}
	return f.Count >= 1 && f.Count <= mostWritten
}

// word reads two bytes, high byte first.
func word(p []byte) uint16 { return uint16(p[0])<<8 | uint16(p[1]) }
