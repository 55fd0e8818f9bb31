package modbus

// CRC gives the check of a frame's bytes: CRC-16/MODBUS, polynomial 8005 reflected (A001), start
// FFFF, no final xor; "123456789" gives 4B37 (CRC catalogue of docs.rs crc-catalog). In a frame
// it stands low byte first, so that the CRC over a whole good frame is 0. It finds every change
// of one or two bits in a frame.
func CRC(p []byte) uint16 {
	crc := uint16(0xFFFF)
	for _, b := range p {
		crc ^= uint16(b)
		for range 8 {
			low := crc & 1
			crc >>= 1
			crc ^= 0xA001 * low
		}
	}
	return crc
}

func appendCRC(dst []byte, from int) []byte {
	crc := CRC(dst[from:])
	return append(dst, byte(crc), byte(crc>>8))
}
