package board

import "strconv"

const hexDigits = "0123456789ABCDEF"

// CRC gives CRC-16/CCITT-FALSE of p: polynomial 1021 (hex), start FFFF, not reflected, no
// final exclusive-or. CRC of "123456789" is 29B1, the check value catalogues give for it.
func CRC(p []byte) uint16 {
	crc := uint16(0xFFFF)
	for _, b := range p {
		crc ^= uint16(b) << 8
		for range 8 {
			if crc&0x8000 != 0 {
				crc = crc<<1 ^ 0x1021
			} else {
				crc <<= 1
			}
		}
	}
	return crc
}

// Append appends the line of f, with its check and line end, to dst. A frame that Valid
// refuses has no line: then dst comes back as it was.
func Append(dst []byte, f Frame) []byte {
	if Valid(f) != nil {
		return dst
	}
	from := len(dst)
	dst = appendBody(dst, f)
	dst = append(dst, '*')
	dst = appendHex(dst, uint32(CRC(dst[from:len(dst)-1])), 4)
	return append(dst, '\r', '\n')
}

// Check gives the check of p's line, which the Commit must repeat.
func (p Propose) Check() uint16 {
	var b [MaxLine]byte
	return CRC(appendBody(b[:0], p))
}

func appendBody(b []byte, f Frame) []byte {
	switch f := f.(type) {
	case Boot:
		return appendAbout(append(b, 'B'), f.About)
	case Info:
		return appendAbout(append(b, 'I'), f.About)
	case Reading:
		b = appendNum(append(b, 'R'), uint32(f.Seq))
		b = appendNum(b, f.Millis)
		b = appendNum(b, uint32(f.Channel))
		b = appendHex(append(b, ','), f.Raw, 8)
		b = appendHex(append(b, ','), uint32(f.Latches), 2)
		b = appendNum(b, uint32(f.Accepted))
		return appendNum(b, uint32(f.Refused))
	case Ack:
		b = appendNum(append(b, 'A'), uint32(f.Seq))
		b = append(b, ',', f.Of, ',', byte(f.Result), ',')
		return appendHex(b, uint32(f.Latches), 2)
	case Duty:
		return appendNum(appendNum(append(b, 'D'), uint32(f.Seq)), uint32(f.PerMille))
	case Query:
		return appendNum(append(b, 'Q'), uint32(f.Seq))
	case Propose:
		return appendStored(appendNum(append(b, 'P'), uint32(f.Seq)), f.Stored)
	case Commit:
		b = appendNum(append(b, 'C'), uint32(f.Seq))
		return appendHex(append(b, ','), uint32(f.Check), 4)
	case Reset:
		return appendNum(append(b, 'X'), uint32(f.Seq))
	}
	return b
}

func appendAbout(b []byte, a About) []byte {
	b = appendNum(b, uint32(a.Version))
	b = append(append(b, ','), a.Name...)
	b = appendNum(b, uint32(a.Boot))
	b = append(b, ',', byte(a.Cause), ',')
	b = append(b, a.Chip...)
	b = appendNum(b, uint32(a.Channels))
	b = appendNum(b, uint32(a.CeilingQ))
	b = appendStored(b, a.Stored)
	return appendHex(append(b, ','), uint32(a.Latches), 2)
}

func appendStored(b []byte, s Stored) []byte {
	b = appendNum(b, uint32(s.Guard))
	b = appendNum(b, uint32(s.LimitQ))
	b = appendNum(b, uint32(s.WindowS))
	return appendNum(b, uint32(s.MainsHz))
}

func appendNum(b []byte, v uint32) []byte {
	return strconv.AppendUint(append(b, ','), uint64(v), 10)
}

func appendHex(b []byte, v uint32, digits int) []byte {
	for i := digits - 1; i >= 0; i-- {
		b = append(b, hexDigits[v>>(4*i)&15])
	}
	return b
}
