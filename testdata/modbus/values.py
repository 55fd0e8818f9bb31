#!/usr/bin/env python3
"""Prints values.csv: registers in each type and word order, packed by CPython's struct, never
by the Go code under test."""
import struct

HEAD = """\
# Registers of Modbus values. Printed by values.py beside this file: packed by CPython's struct,
# not by the code that they test. The orders are permutations of the bytes ABCD as the protocol
# would send them. An empty value is one that must not be read; why is in the last column.
# type,order,bytes,value,fault"""
PACK = {"int16": ">h", "uint16": ">H", "int32": ">i", "uint32": ">I", "float32": ">f"}
VALUES = {
    "int16": [0, 1, -1, 1812, -2000, 32766, -32767],
    "uint16": [0, 1, 1812, 65534, 32767, 32768],
    "int32": [0, 1, -1, 181250, -40000, 2**31 - 2, -(2**31) + 1, 65536],
    "uint32": [0, 1, 181250, 2**32 - 2, 2**31],
    "float32": [0.0, 1.0, -1.0, 281.0, 181.25, -40.5, 1372.0],
}
ENDS = {
    "int16": [32767, -32768],
    "uint16": [65535],
    "int32": [2**31 - 1, -(2**31)],
    "uint32": [2**32 - 1],
}
NANS = ["7fc00000", "ffc00000", "7f800001", "7f800000", "ff800000"]
ORDERS = {"ABCD": (0, 1, 2, 3), "CDAB": (2, 3, 0, 1), "BADC": (1, 0, 3, 2), "DCBA": (3, 2, 1, 0)}


def turned(raw, order):
    if len(raw) == 2:
        return raw if order in ("ABCD", "CDAB") else raw[::-1]
    return bytes(raw[i] for i in ORDERS[order])


def main():
    print(HEAD)
    for kind, fmt in PACK.items():
        for order in ORDERS:
            for v in VALUES[kind]:
                print(f"{kind},{order},{turned(struct.pack(fmt, v), order).hex()},{v!r},")
            for v in ENDS.get(kind, []):
                print(f"{kind},{order},{turned(struct.pack(fmt, v), order).hex()},,end")
            for raw in NANS if kind == "float32" else []:
                print(f"{kind},{order},{turned(bytes.fromhex(raw), order).hex()},,nan")


main()
