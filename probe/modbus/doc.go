// Package modbus reads temperature modules that speak Modbus RTU: bytes to frames and back,
// and registers to numbers. It does no input or output and asks no clock: time comes in as an
// argument.
//
// It only reads. The functions 03 (holding registers) and 04 (input registers) can be asked
// for; nothing here can build a request that writes. Frames of 06 and 16 are taken apart for
// whoever looks at a line that others write on.
//
// A frame (from memory, Modbus over serial line V1.02, its figures compared with copies of the
// guide; numbers are two bytes, high byte first, but for the check):
//
//	unit 1 to 247 | function | data | CRC-16/MODBUS, low byte first     256 bytes at most
//	request  of 03, 04   register, count (1 to 125)
//	reply    to 03, 04   bytes that follow (2 x count), the registers
//	exception            function + 80 hex, code
//
// Registers here are the addresses on the wire, from 0. Manuals often count from 1, and some
// put 3 or 4 in front: 30001 is then wire address 0 of function 04, 40001 wire address 0 of
// function 03. If a module answers "illegal address" or a neighbour's figure, try one less.
//
// A reply does not say which register it answers. One that comes after its time could thus be
// taken for the answer to the next request; Master therefore lets the line rest after every
// exchange that did not end well, and the rest begins anew with each byte that still comes. A
// module that is slower than time-out and rest together can still deceive: set the time-out
// above the slowest answer seen.
package modbus
