#!/usr/bin/env python3
"""Frames made by an independent implementation, for tests/wire_reference.rs.

COBS: PyPI package `cobs` (its own C implementation). CRC: zlib.crc32 of the standard library, held
against a bit-by-bit CRC-32/ISO-HDLC below and the published check value 0xCBF43926 of "123456789".
Payload layouts are written out with `struct`, from the specification in src/wire/mod.rs.

    framing.py            writes framing.csv beside this file
    framing.py --check    ends with 1 if framing.csv is not what it would write
"""
import random
import struct
import sys
import zlib
from pathlib import Path

from cobs import cobs

PROTO = 1
TARGET = Path(__file__).with_suffix(".csv")


def crc32_bitwise(data):
    crc = 0xFFFFFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ (0xEDB88320 if crc & 1 else 0)
    return crc ^ 0xFFFFFFFF


def varint(n):
    out = bytearray()
    while n >= 0x80:
        out.append(n & 0x7F | 0x80)
        n >>= 7
    out.append(n)
    return bytes(out)


def frame(kind, seq, payload):
    body = bytes([PROTO, kind]) + varint(seq) + payload
    crc = zlib.crc32(body)
    assert crc == crc32_bitwise(body)
    wire = cobs.encode(body + struct.pack("<I", crc)) + b"\0"
    assert len(wire) <= 256
    return wire


def alarm(id, run, code, time_us, angle, torque, torque_u):
    return struct.pack("<BBBIfff", id, run, code, time_us, angle, torque, torque_u)


def cases():
    yield "start", 67, 0, b""
    yield "finish", 68, 127, b""
    yield "alarm", 3, 300, alarm(7, 1, 2, 1_500_000, 12.5, 31.25, 0.5)
    yield "alarm_longest", 3, 0xFFFFFFFF, alarm(255, 255, 255, 0xFFFFFFFF, -3.4e38, 3.4e38, 1e-45)
    yield "ack", 65, 128, varint(0xDEADBEEF) + b"\x05"
    yield "thinned", 8, 16_384, varint(70_000)
    yield "job_reply", 10, 2_097_152, varint(0xCBF43926) + b"\x01"
    random.seed(20261125)
    for length in [1, 2, 3, 13, 100, 242, 243]:
        yield f"zeros_{length}", 200, 1, bytes(length)
        yield f"ones_{length}", 201, 2, b"\xff" * length
        yield f"random_{length}", 202, random.getrandbits(7), random.randbytes(length)
        yield f"sparse_{length}", 203, 3, bytes(random.choice([0, 1, 255]) for _ in range(length))
    for seq in [0, 1, 127, 128, 16_383, 16_384, 2_097_151, 2_097_152, 268_435_455, 268_435_456]:
        yield f"seq_{seq}", 250, seq, b"\x01\x00\x02"


def main():
    assert crc32_bitwise(b"123456789") == zlib.crc32(b"123456789") == 0xCBF43926
    text = "name,kind,seq,payload_hex,wire_hex\n" + "".join(
        f"{name},{kind},{seq},{payload.hex()},{frame(kind, seq, payload).hex()}\n"
        for name, kind, seq, payload in cases()
    )
    if "--check" in sys.argv[1:]:
        if TARGET.read_text() != text:
            sys.exit(f"{TARGET} differs: run {sys.argv[0]} and look at what changed")
    else:
        TARGET.write_text(text)


main()
