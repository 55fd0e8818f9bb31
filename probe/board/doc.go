// Package board turns the bytes of our line protocol into frames and frames into bytes,
// and holds the rules that board and host share: the number window, the dead man and the
// two-step change of settings. It does no input or output and asks no clock.
//
// # Lines
//
// 38,400 baud 8N1, ASCII. A line is at most 96 bytes, its end included.
//
//	stream  = *( line / empty )
//	line    = body "*" check CR LF
//	empty   = CR LF                  ; no frame and no error: ends a half line, see below
//	check   = 4HEX                   ; CRC-16/CCITT-FALSE over body; "123456789" gives 29B1
//	body    = boot / info / reading / ack / duty / query / propose / commit / reset
//
//	boot    = "B" about              ; board to host, first line after every start
//	info    = "I" about              ; board to host, after the ack of a query
//	reading = "R," seq "," millis "," channel "," raw "," latches "," accepted "," refused
//	ack     = "A," seq "," of "," result "," latches
//	duty    = "D," seq "," permille
//	query   = "Q," seq
//	propose = "P," seq "," stored
//	commit  = "C," seq "," 4HEX      ; the check of the propose line
//	reset   = "X," seq
//
//	about   = "," version "," name "," bootno "," cause "," chip "," channels "," ceiling
//	          "," stored "," latches
//	stored  = guard "," limit "," window "," mains
//
//	version = "1"                    ; any other number is ErrVersion, whatever follows it
//	name    = 1*16( ALPHA / DIGIT / "-" )      ; chip is spelt the same way
//	cause   = "P" / "R" / "W" / "B"  ; power, reset line, watchdog, brown-out
//	of      = "Q" / "P" / "C" / "X"
//	result  = "Y" / "H" / "R" / "C" / "L"      ; done, heating, range, check, stands
//	raw     = 8HEX                   ; the chip's word, first bit first
//	latches = 2HEX                   ; 00 to 7F, the bits of probe.Latch
//	HEX     = DIGIT / "A" / "B" / "C" / "D" / "E" / "F"        ; upper case only
//
// All other fields are decimal, without sign, leading zero or space: seq, accepted and bootno
// 0 to 65535, millis 0 to 4294967295, channel and channels 1 to 8, refused 0 to 255,
// permille 0 to 1000, ceiling 1 to 8191, guard 1 to 8, limit 1 to 8191, window 2 to 60 (s),
// mains 50 or 60 (Hz). In about, guard is at most channels and limit at most ceiling.
// Ceiling and limit are in the quarter degrees of the chip's own straight line (14 bits).
// A frame therefore has one spelling only: Append(Decode(line)) gives the line again.
//
// A board sends an empty line before its boot line, and a host sends one after opening the
// port, so that half a line left in the cable ends there and does not spoil the next one.
//
// One line of each kind:
//
//	B,1,straw-uno,7,R,MAX31855K,2,2000,1,1040,2,50,00*A73B
//	I,1,straw-uno,7,R,MAX31855K,2,2000,1,1040,2,50,40*07F7
//	R,4711,117750,1,0C9B1A80,00,312,0*62B5
//	A,17,P,Y,00*81BE
//	D,313,425*DC9C
//	Q,16*14D9
//	P,17,1,1040,2,50*2757
//	C,18,2757*7DED
//	X,19*1641
//
// # Numbers
//
// Duty, Propose, Commit and Reset are taken only if their number is 1 to 8 ahead of the last
// accepted one, counted round the end of 16 bits; then theirs is the last accepted one,
// whatever their result. Any other number is refused without an answer and counted, as are
// corrupt lines, in the next reading. A boot sets the last accepted number to StartOf(bootno),
// which moves far from one start to the next, so that a line sent before the start is not taken
// after it. A Query is taken with any number and makes that the last accepted one. Duty 0 is
// accepted with any number: it sets the output to 0 at once, but moves the last accepted number
// only if its own is in the window, so that a replayed one opens nothing.
//
// # Heat
//
// The board holds the output off at boot, while any latch is set and at every bad conversion of
// the guard channel. A latch sets the accepted duty to 0; while one is set a Duty above 0 moves
// the last accepted number and changes nothing else. Latches are not kept through a start, but
// for configuration, whose cause is. The dead man: while the accepted duty is above 0, 3 s
// without a Duty whose number was in the window sets the latch host silent. With duty 0 nothing
// latches. No other line feeds it.
//
// # Answers
//
// Readings answer Duty. Query: Ack Y, then Info. Propose: Ack Y, H if the accepted duty is
// above 0, R if guard is above the board's channels or limit above its ceiling; a refused one
// forgets any earlier proposal. Commit: Ack Y within 10 s of the last proposal answered Y if
// its check is that of the Propose line and the accepted duty is 0; H if it is above 0; C
// otherwise. A proposal is forgotten by any Commit, by a Duty above 0 and by a start. A commit
// that is done clears the latch configuration. Reset: Ack H if the accepted duty is above 0;
// otherwise every latch whose cause is gone is cleared, and Ack is Y if none stands, L if one
// does. The causes: for the latches of faults, the guard channel's last conversion was bad; for
// high limit, it was above the limit or bad; for configuration, the stored settings are
// unreadable; host silent has none, once the duty is 0.
package board
