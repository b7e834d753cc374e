"""Frames of the link, for the driver beside it: stuffing, CRC, and the stops ahead of both."""

import struct
import zlib

FLAG, ESCAPE, FLIP, CUT, STOP = 0x7E, 0x7D, 0x20, 0xC0, 0xFC
RESERVED = {FLAG, ESCAPE, CUT, STOP}
LONGEST_FROM_HOST = 64
HELLO, CLEAR, SEGMENT, START, KEEPALIVE = 1, 2, 3, 4, 5
HELLO_REPLY, ACK, NAK, STATUS, PULSES = 0x81, 0x82, 0x83, 0x84, 0x85
LENGTHS = {CLEAR: 0, SEGMENT: 13, START: 18, KEEPALIVE: 2}


class Refused(Exception):
    """A NAK: code, asked, allowed."""


def stuffed(body):
    out = bytearray()
    for byte in body:
        out += bytes((ESCAPE, byte ^ FLIP)) if byte in RESERVED else bytes((byte,))
    return bytes(out)


def frame(kind, seq, payload):
    body = bytes((kind, seq, len(payload))) + payload
    return bytes((FLAG,)) + stuffed(body + struct.pack("<I", zlib.crc32(body))) + bytes((FLAG,))


class Receiver:
    """Sections 2 and 3: stops ahead of everything, then frames; what is damaged is counted."""

    def __init__(self):
        self.last = None
        self.body = bytearray()
        self.escaped = False
        self.spoilt = False
        self.discarded = 0

    def take(self, byte):
        """'cut', 'stop', a whole frame (kind, seq, payload), or None."""
        twice, self.last = byte == self.last, byte
        if byte in (CUT, STOP):
            return {CUT: "cut", STOP: "stop"}[byte] if twice else None
        if byte == FLAG:
            return self.close()
        self.add(byte)
        return None

    def add(self, byte):
        if self.escaped:
            self.escaped = False
            byte ^= FLIP
            self.spoilt |= byte not in RESERVED
        elif byte == ESCAPE:
            self.escaped = True
            return
        if len(self.body) < LONGEST_FROM_HOST + 7:
            self.body.append(byte)
        else:
            self.spoilt = True

    def close(self):
        body, nothing = bytes(self.body), not (self.body or self.escaped or self.spoilt)
        good = not (self.escaped or self.spoilt) and self.is_whole(body)
        self.body.clear()
        self.escaped = self.spoilt = False
        if good:
            return body[0], body[1], body[3:-4]
        self.discarded += 0 if nothing else 1
        return None

    @staticmethod
    def is_whole(body):
        return (len(body) >= 7 and body[2] == len(body) - 7
                and struct.unpack("<I", body[-4:])[0] == zlib.crc32(body[:-4]))
