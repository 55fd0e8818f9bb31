package modbus

import (
	"errors"
	"fmt"
	"time"
)

// Function is what a frame asks for.
type Function byte

// The functions that this package knows. Only the first two can be asked for.
const (
	ReadHolding   Function = 0x03
	ReadInput     Function = 0x04
	WriteOne      Function = 0x06 // only taken apart
	WriteMultiple Function = 0x10 // only taken apart

	exceptionBit = 0x80
)

// Limits of the protocol.
const (
	MaxUnit  = 247 // 0 is a broadcast, which nobody answers
	MaxCount = 125 // registers of one request
	MaxFrame = 256 // bytes with the check

	requestBytes   = 8
	exceptionBytes = 5
	replyOverhead  = 5 // unit, function, byte count, check
)

// Request asks a unit for registers.
type Request struct {
	Unit     byte     // 1 to 247
	Function Function // ReadHolding or ReadInput
	Register uint16   // address on the wire, from 0: often one less than in the manual
	Count    uint16   // 1 to 125 registers of 16 bits; Register + Count at most 65536
}

// ErrRequest says that a Request cannot be sent.
var ErrRequest = errors.New("no request that can be sent")

// Check gives nil, or an ErrRequest that says what is wrong. A request that writes is wrong.
func (r Request) Check() error {
	switch {
	case r.Unit < 1 || r.Unit > MaxUnit:
		return fmt.Errorf("%w: unit %d is outside 1 to %d", ErrRequest, r.Unit, MaxUnit)
	case r.Function != ReadHolding && r.Function != ReadInput:
		return fmt.Errorf("%w: function %02d is not 03 or 04, and nothing else is ever asked",
			ErrRequest, r.Function)
	case r.Count < 1 || r.Count > MaxCount:
		return fmt.Errorf("%w: %d registers are outside 1 to %d", ErrRequest, r.Count, MaxCount)
	case int(r.Register)+int(r.Count) > 1<<16:
		return fmt.Errorf("%w: %d registers from %d go beyond 65535", ErrRequest, r.Count,
			r.Register)
	}
	return nil
}

// Append adds the request's eight bytes to dst, or gives dst as it was and an ErrRequest. Unit
// 17, ReadHolding, register 0x6B, 3 registers is 11 03 00 6B 00 03 76 87.
func (r Request) Append(dst []byte) ([]byte, error) {
	if err := r.Check(); err != nil {
		return dst, err
	}
	from := len(dst)
	dst = append(dst, r.Unit, byte(r.Function), byte(r.Register>>8), byte(r.Register),
		byte(r.Count>>8), byte(r.Count))
	return appendCRC(dst, from), nil
}

// Expect gives the length in bytes of the good reply to a request: 5 and two for each register.
// An exception has 5.
func Expect(r Request) int { return replyOverhead + 2*int(r.Count) }

const characterBits = 11 // start, eight, parity or a second stop, stop

// Transfer gives the time that n characters of 11 bits take at baud bits a second; 0 if there is
// no such rate. 8 characters at 9600 take 9.17 ms.
func Transfer(baud, n int) time.Duration {
	if baud <= 0 || n <= 0 {
		return 0
	}
	return time.Duration(int64(n) * characterBits * int64(time.Second) / int64(baud))
}

// Silence gives the least pause between two frames: 3.5 characters, and 1.75 ms above 19,200
// baud (Modbus over serial line V1.02, page 13, as cited in copies). 9600 gives 4.01 ms, 19,200
// 2.01 ms.
func Silence(baud int) time.Duration { return pause(baud, 7, 1750*time.Microsecond) }

// Inside gives the longest pause that a sender may make inside a frame: 1.5 characters, and
// 0.75 ms above 19,200 baud (same page). 9600 gives 1.72 ms, 19,200 0.86 ms. No operating
// system hands bytes on so exactly, so this package goes by length and check instead.
func Inside(baud int) time.Duration { return pause(baud, 3, 750*time.Microsecond) }

func pause(baud, halves int, fast time.Duration) time.Duration {
	if baud > 19200 {
		return fast
	}
	return Transfer(baud, halves) / 2
}
