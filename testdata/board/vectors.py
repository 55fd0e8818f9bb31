#!/usr/bin/env python3
"""Prints vectors.txt. The checks are computed here with binascii.crc_hqx (CPython's own
CRC of polynomial 1021, given the start FFFF), never by the Go or C code under test."""
import binascii

HEAD = """\
# Vectors of the board's line protocol, version 1. Printed by vectors.py beside this file.
# The checks come from CPython's binascii.crc_hqx with start FFFF, not from the code they test.
# The rows marked crc with a name other than own: check values as the public catalogues give
# them (CRC-16/CCITT-FALSE in docs.rs donglora-protocol and the FastCRC readme; the others
# are of its relatives for the same input, which an implementation must NOT give).
#
# One record a row, fields parted by single spaces, rows with # are comments. For sscanf:
#   crc NAME TEXT HEX              "%15s %95s %4x"; NAME other-... : the CRC must differ
#   good LINE LETTER FIELD...      LINE without CR LF; then the fields in the order of the
#                                  grammar, decimal but for raw, latches and check (hex):
#     B,I "%hhu %16s %hu %c %16s %hhu %hd %hhu %hd %hhu %hhu %hhx"
#     R   "%hu %u %hhu %x %hhx %hu %hhu"     A "%hu %c %c %hhx"    D "%hu %hu"
#     Q,X "%hu"     P "%hu %hhu %hd %hhu %hhu"      C "%hu %hx"
#   bad KIND BYTES                 BYTES in hex, the line end with them if there is one; KIND is
#                                  long, form, crc, version or range: the first that applies.
#                                  It is the first thing a fresh decoder says of these bytes.
#   window LAST SEQ TAKEN AFTER    "%hu %hu %d %hu": a Duty above 0, Propose, Commit or Reset
#   zero LAST SEQ AFTER            "%hu %hu %hu": Duty 0, which is always taken
#   start BOOT LAST                "%hu %hu": the last accepted number that a boot sets
"""


def crc(b):
    return binascii.crc_hqx(b, 0xFFFF)


def line(body):
    return "%s*%04X" % (body, crc(body.encode()))


ABOUT = "1,straw-uno,7,R,MAX31855K,2,2000,1,1040,2,50,00"
GOOD = [
    "B," + ABOUT,
    "B,1,A,0,P,b,1,1,1,1,2,60,7F",
    "B,1,abcdefghijklmnop,65535,W,ABCDEFGHIJ-01234,8,8191,8,8191,60,50,40",
    "B,1,z9,10,B,MAX31855K,3,4000,3,4000,59,60,01",
    "I,1,straw-uno,7,R,MAX31855K,2,2000,1,1040,2,50,40",
    "R,4711,117750,1,0C9B1A80,00,312,0",
    "R,0,0,1,00000000,00,0,0",
    "R,65535,4294967295,8,FFFFFFFF,7F,65535,255",
    "R,9,250,2,0001A001,01,8,3",
    "A,16,Q,Y,00", "A,17,P,Y,00", "A,18,C,C,40", "A,19,X,L,10", "A,65535,P,R,7F", "A,0,X,H,20",
    "D,313,425", "D,0,0", "D,65535,1000", "D,1,1",
    "Q,16", "Q,0", "Q,65535",
    "P,17,1,1040,2,50", "P,0,8,8191,60,60", "P,65535,1,1,2,60",
    "C,18,@", "C,0,0000", "C,65535,FFFF",
    "X,19", "X,0", "X,65535",
]
PCHECK = "%04X" % crc(b"P,17,1,1040,2,50")
GOOD = [g.replace("@", PCHECK) for g in GOOD]

# Bodies that get a right check and must still be refused.
FORM = [
    "", "D", "D,", "D,1", "D,1,", "D,1,2,3", "D,1,2,", "d,1,2", "E,1", "DD,1,2", ",1,2", "D;1;2",
    "D,01,2", "D,1,02", "D,+1,2", "D,1,-2", "D, 1,2", "D,1 ,2", "D,1,2 ", " D,1,2", "D,0x1,2",
    "D,1.0,2", "D,1e1,2", "D,00,2", "D,,2", "D,1,2*", "D,1,\x002", "D,1,\t2", "D,1\r,2",
    "Q", "Q,", "Q,1,", "Q,1,2", "X,a", "C,1,12F", "C,1,12FG", "C,1,12ff", "C,1,012FF", "C,1",
    "P,17,1,1040,2", "P,17,1,1040,2,50,0", "P,17,1,1040.0,2,50", "P,17,1,,2,50",
    "R,4711,117750,1,0c9b1a80,00,312,0", "R,4711,117750,1,C9B1A80,00,312,0",
    "R,4711,117750,1,00C9B1A80,00,312,0", "R,4711,117750,1,0C9B1A80,0,312,0",
    "R,4711,117750,1,0C9B1A80,000,312,0", "R,4711,117750,1,0C9B1A80,00,312",
    "R,4711,117750,1,0C9B1A80,00,312,0,0", "R,4711,117750,1,0C9B1A80,0g,312,0",
    "A,16,q,Y,00", "A,16,D,Y,00", "A,16,Q,N,00", "A,16,QQ,Y,00", "A,16,Q,,00", "A,16,Q,Y",
    "B,1,straw uno,7,R,MAX31855K,2,2000,1,1040,2,50,00", "B,1,,7,R,MAX31855K,2,2000,1,1040,2,50,00",
    "B,1,abcdefghijklmnopq,7,R,MAX31855K,2,2000,1,1040,2,50,00",
    "B,1,straw_uno,7,R,MAX31855K,2,2000,1,1040,2,50,00",
    "B,1,straw-uno,7,Z,MAX31855K,2,2000,1,1040,2,50,00",
    "B,1,straw-uno,7,R,,2,2000,1,1040,2,50,00", "B,1,straw-uno,7,R,MAX31855K,2,2000,1,1040,2,50",
    "B," + ABOUT + ",0", "I,1", "B,01" + ABOUT[1:], "B,x" + ABOUT[1:],
]
VERSION = ["B,2" + ABOUT[1:], "I,2", "B,255,anything,else", "B,0" + ABOUT[1:], "I,1000" + ABOUT[1:]]
RANGE = [
    "D,65536,0", "D,1,1001", "D,99999999999999999999999999,1", "D,1,18446744073709551617",
    "Q,65536", "X,65536", "C,65536,0000",
    "R,65536,0,1,00000000,00,0,0", "R,0,4294967296,1,00000000,00,0,0", "R,0,0,0,00000000,00,0,0",
    "R,0,0,9,00000000,00,0,0", "R,0,0,1,00000000,80,0,0", "R,0,0,1,00000000,00,65536,0",
    "R,0,0,1,00000000,00,0,256", "A,65536,Q,Y,00", "A,1,Q,Y,FF",
    "P,1,0,1040,2,50", "P,1,9,1040,2,50", "P,1,1,0,2,50", "P,1,1,8192,2,50", "P,1,1,1040,1,50",
    "P,1,1,1040,61,50", "P,1,1,1040,2,49", "P,1,1,1040,2,55", "P,1,1,1040,2,306",
    "B,1,straw-uno,65536,R,MAX31855K,2,2000,1,1040,2,50,00",
    "B,1,straw-uno,7,R,MAX31855K,0,2000,1,1040,2,50,00",
    "B,1,straw-uno,7,R,MAX31855K,9,2000,1,1040,2,50,00",
    "B,1,straw-uno,7,R,MAX31855K,2,0,1,1040,2,50,00",
    "B,1,straw-uno,7,R,MAX31855K,2,8192,1,1040,2,50,00",
    "B,1,straw-uno,7,R,MAX31855K,2,2000,3,1040,2,50,00",
    "I,1,straw-uno,7,R,MAX31855K,2,2000,1,2001,2,50,00",
    "B,1,straw-uno,7,R,MAX31855K,2,2000,1,1040,2,50,80",
]


def bad(kind, data):
    shown = repr(data)[1:]
    print("# %s" % (shown if len(shown) < 90 else shown[:86] + "..."))
    print("bad %s %s" % (kind, data.hex().upper()))


def main():
    print(HEAD, end="")
    print("\n# The checksum")
    print("crc catalogue 123456789 29B1")
    for name, want in [("xmodem", "31C3"), ("kermit", "2189"), ("mcrf4xx", "6F91"), ("x-25", "906E"),
                       ("arc", "BB3D"), ("modbus", "4B37")]:
        print("crc other-%s 123456789 %s" % (name, want))
    for text in ["A", "D,1,1", "Q,0", "B," + ABOUT, "~~~~~~~~~~~~~~~~"]:
        print("crc own %s %04X" % (text, crc(text.encode())))
    print("\n# Good lines")
    for g in GOOD:
        print("good %s %s" % (line(g), " ".join(g.split(","))))
    print("\n# Bad lines with a right check")
    for kind, bodies in [("form", FORM), ("version", VERSION), ("range", RANGE)]:
        for b in bodies:
            bad(kind, line(b).encode("latin-1") + b"\r\n")
    print("\n# Bad lines by check, end or length")
    d = line("D,313,425").encode()
    for at in range(9):
        flip = bytearray(d)
        flip[at] ^= 0x04
        bad("crc", bytes(flip) + b"\r\n")
    for at in range(10, 14):
        flip = bytearray(d)
        flip[at] = ord("0") if flip[at] != ord("0") else ord("1")
        bad("crc", bytes(flip) + b"\r\n")
    bad("crc", b"D,313,426" + d[9:] + b"\r\n")
    bad("crc", b"\x00" + d + b"\r\n")
    low = line("Q,16").encode()
    for b in [d + b"\n", d + b"\n\r", d + b"\r\r\n", d + b" \r\n", d[:-1] + b"\r\n", d[:9] + d[10:] + b"\r\n",
              b"D,313,425\r\n", low[:5] + low[5:].lower() + b"\r\n", b"*FFFF\r\n", b"\n", b"\r\r\n", b"\x00\x00\r\n",
              b"garbage\r\n", b"*\r\n", b"T1=24.5\r\n"]:
        bad("form", b)
    bad("long", b"D,1," + b"0" * 92)
    bad("long", b"\x00" * 96)
    bad("long", b"*" * 94 + b"\r" + b"X")
    bad("long", line("D,1," + "1" * 86).encode() + b"\r\n")
    bad("range", line("D,1," + "1" * 85).encode() + b"\r\n")
    print("\n# The number window")
    for last in [0, 1, 100, 32767, 65527, 65528, 65534, 65535]:
        for step in [0, 1, 2, 7, 8, 9, 10, 255, 256, 32768, 65527, 65528, 65534, 65535]:
            seq = (last + step) % 65536
            taken = seq in [(last + k) % 65536 for k in range(1, 9)]
            print("window %d %d %d %d" % (last, seq, taken, seq if taken else last))
            print("zero %d %d %d" % (last, seq, seq if taken else last))
    print("\n# The start that a boot sets")
    for boot in [0, 1, 2, 7, 65535]:
        print("start %d %d" % (boot, boot * 40503 % 65536))


main()
