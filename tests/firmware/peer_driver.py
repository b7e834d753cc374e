"""A motor driver for the link, written from include/whirler/link/PROTOCOL.md alone.

    peer_driver.py PORT [--powered-for S]

It is the proof that the page is enough: another language, another tick (4 us, a counter of 24 bits),
another number of marks (4), and a spinner of a few lines. It turns nothing. SIGUSR1 opens its lid,
SIGUSR2 shuts it. Section numbers in the comments are those of the page.
"""

import argparse
import signal
import struct
import time
import zlib

import serial
from peer_frames import (ACK, CLEAR, HELLO, HELLO_REPLY, KEEPALIVE, LENGTHS, NAK, PULSES, SEGMENT, STATUS,
                         Receiver, Refused, frame)

TICK_NUMERATOR, TICK_DENOMINATOR, TICK_BITS = 1, 250000, 24
MARKS = 4
SPEED_MAX, SPEED_MIN, SLOPE_MAX = 5000000, 120000, 2500000  # 1/1000 rpm, and per second
SEGMENTS_MAX = 40
STILL_MS = 1500  # a mark interval at 10 rpm
UNBELIEVED_MS = 60000
NAME = "peer, Python".encode()

LATCHED, READY, STARTING, RUNNING, STOPPING = range(5)
POWER_UP, DONE, OPERATOR_STOP, OPERATOR_CUT, LID_OPEN, LINK_LOST, OVERSPEED = 1, 2, 3, 4, 5, 6, 7
STALL, TACH_LOST, TACH_IMPLAUSIBLE, NEW_HOST = 8, 9, 10, 14
NAK_UNKNOWN_TYPE, NAK_BAD_LENGTH, NAK_NO_HELLO, NAK_BAD_STATE, NAK_TURNING, NAK_LID_OPEN = 1, 2, 3, 4, 5, 6
NAK_BAD_INDEX, NAK_SPEED_HIGH, NAK_SPEED_LOW, NAK_SLOPE_HIGH, NAK_SLOPE_ZERO = 8, 9, 10, 11, 12
NAK_TOO_MANY, NAK_MISSING, NAK_DIFFERS, NAK_TOKEN, NAK_NO_SEGMENTS = 13, 14, 15, 16, 18


class Spinner:
    """Follows a target with a lag; its marks pass at known times."""

    LAG_S = 0.03
    COAST_RPM_S = 3000.0

    def __init__(self):
        self.rpm = 0.0
        self.turns = 0.05  # not on a mark
        self.next_mark = 1

    def advance(self, dt, target):
        """Seconds into dt at which marks passed, and their numbers. A target of None: it coasts."""
        before = self.rpm
        if target is None:
            self.rpm = max(0.0, self.rpm - self.COAST_RPM_S * dt)
        else:
            self.rpm += (target - self.rpm) * min(1.0, dt / self.LAG_S)
        step = (before + self.rpm) / 2 / 60 * dt
        passed = []
        while step > 0 and self.turns + step >= self.next_mark / MARKS:
            into = (self.next_mark / MARKS - self.turns) / step * dt
            passed.append((into, self.next_mark % MARKS))
            self.next_mark += 1
        self.turns += step
        return passed


class PulseSender:
    """Section 5, PULSES: batches with the counter at their first pulse."""

    LONGEST_MS = 20

    def __init__(self):
        self.batch = 0
        self.captured = 0
        self.waiting = []  # (tick, clock ms, mark, captured before)

    def add(self, tick, clock_ms, mark, wanted):
        if wanted:
            self.waiting.append((tick, clock_ms, mark, self.captured))
        self.captured += 1

    def due(self, clock_ms):
        """The payload of a batch whose time has come, or None."""
        if not self.waiting or clock_ms - self.waiting[0][1] < self.LONGEST_MS:
            return None
        tick, at_ms, mark, before = self.waiting[0]
        deltas = b"".join(self.varint(later[0] - earlier[0])
                          for earlier, later in zip(self.waiting, self.waiting[1:]))
        head = struct.pack("<HIIIHB", self.batch & 0xFFFF, before & 0xFFFFFFFF,
                           tick % (1 << TICK_BITS), at_ms & 0xFFFFFFFF, mark, len(self.waiting))
        self.batch += 1
        self.waiting.clear()
        return head + deltas

    @staticmethod
    def varint(value):
        out = bytearray()
        while value >= 0x80:
            out.append(value & 0x7F | 0x80)
            value >>= 7
        out.append(value)
        return bytes(out)


class Program:
    """Segments as they came, checked as section 6 says."""

    def __init__(self):
        self.payloads = {}

    def put(self, payload):
        index, speed, slope, _ = struct.unpack("<BIII", payload)
        if index >= SEGMENTS_MAX:
            raise Refused(NAK_BAD_INDEX, index, SEGMENTS_MAX - 1)
        if speed > SPEED_MAX:
            raise Refused(NAK_SPEED_HIGH, speed, SPEED_MAX)
        if speed < SPEED_MIN:
            raise Refused(NAK_SPEED_LOW, speed, SPEED_MIN)
        if slope == 0:
            raise Refused(NAK_SLOPE_ZERO, 0, 0)
        if slope > SLOPE_MAX:
            raise Refused(NAK_SLOPE_HIGH, slope, SLOPE_MAX)
        self.payloads[index] = payload

    def check(self, count, stop_slope, ceiling, crc):
        if count == 0:
            raise Refused(NAK_NO_SEGMENTS, 0, 0)
        if count > SEGMENTS_MAX:
            raise Refused(NAK_TOO_MANY, count, SEGMENTS_MAX)
        for index in range(count):
            if index not in self.payloads:
                raise Refused(NAK_MISSING, index, 0)
        held = zlib.crc32(b"".join(self.payloads[index] for index in range(count)))
        if held != crc:
            raise Refused(NAK_DIFFERS, crc, held)
        for speed, _, _ in self.steps(count):
            if speed > ceiling:
                raise Refused(NAK_SPEED_HIGH, speed, ceiling)
        if stop_slope == 0:
            raise Refused(NAK_SLOPE_ZERO, 0, 0)
        if stop_slope > SLOPE_MAX:
            raise Refused(NAK_SLOPE_HIGH, stop_slope, SLOPE_MAX)

    def steps(self, count):
        return [struct.unpack("<III", self.payloads[index][1:]) for index in range(count)]


class Motor:
    """States and faults of section 6."""

    START_RPM = 150.0

    def __init__(self, powered_for_s):
        self.state, self.latch, self.stop_reason = LATCHED, POWER_UP, 0
        self.lid_open = False
        self.program, self.steps = Program(), []
        self.token = 0
        self.stop_slope = self.ceiling = 0
        self.target = 0.0
        self.segment, self.phase, self.phase_s = 255, 0, 0.0
        self.fed_s = 0.0
        self.silent_s = powered_for_s
        self.intervals = 0
        self.spinner = Spinner()

    def turning(self):
        return self.state >= STARTING

    def still(self):
        unbelieved = self.latch in (STALL, TACH_LOST, TACH_IMPLAUSIBLE)
        return not self.turning() and self.silent_s * 1000 >= (UNBELIEVED_MS if unbelieved else STILL_MS)

    def off(self, reason):
        if self.state == LATCHED:
            return
        self.state, self.latch = LATCHED, reason
        self.segment, self.phase, self.phase_s, self.target = 255, 0, 0.0, 0.0

    def stop(self):
        if self.state == RUNNING:
            self.begin_stop(OPERATOR_STOP)
        elif self.state != STOPPING:
            self.off(OPERATOR_STOP)

    def begin_stop(self, reason):
        self.state, self.stop_reason = STOPPING, reason
        self.target = min(self.target, self.spinner.rpm)
        self.segment, self.phase, self.phase_s = 255, 0, 0.0

    def clear(self):
        if self.state == READY:
            return
        if self.turning() or not self.still():
            raise Refused(NAK_TURNING, 0, 0)
        if self.lid_open:
            raise Refused(NAK_LID_OPEN, 0, 0)
        self.state, self.latch, self.program = READY, 0, Program()

    def put(self, payload):
        if self.state != READY:
            raise Refused(NAK_BAD_STATE, 0, 0)
        self.program.put(payload)

    def start(self, payload):
        count, stop_slope, _, ceiling, crc, token = struct.unpack("<BIBIII", payload)
        if self.turning() and token == self.token:
            return
        if self.state != READY:
            raise Refused(NAK_BAD_STATE, 0, 0)
        self.program.check(count, stop_slope, ceiling, crc)
        if token in (0, self.token):
            raise Refused(NAK_TOKEN, 0, 0)
        if self.lid_open:
            raise Refused(NAK_LID_OPEN, 0, 0)
        self.token, self.stop_slope = token, stop_slope / 1000
        self.ceiling = min(ceiling, SPEED_MAX) / 1000
        self.steps = [(speed / 1000, slope / 1000, dwell / 1000)
                      for speed, slope, dwell in self.program.steps(count)]
        self.state, self.fed_s, self.intervals, self.phase_s = STARTING, 0.0, 0, 0.0

    def advance(self, dt):
        """The marks that passed, as (seconds into dt, number)."""
        if self.lid_open and self.state != LATCHED:
            self.off(LID_OPEN)
        passed = self.spinner.advance(dt, self.wanted())
        self.silent_s = 0.0 if passed else self.silent_s + dt
        if self.turning():
            self.fed_s += dt
            self.phase_s += dt
            self.step(dt, len(passed))
        return passed

    def wanted(self):
        if not self.turning():
            return None
        return self.START_RPM if self.state == STARTING else self.target

    def step(self, dt, marks):
        if self.fed_s >= 0.25:
            self.off(LINK_LOST)
        elif self.spinner.rpm > 1.1 * self.ceiling:
            self.off(OVERSPEED)
        elif self.state == STARTING:
            self.step_start(marks)
        elif self.state == RUNNING:
            self.step_run(dt)
        else:
            self.target -= self.stop_slope * dt
            if self.target <= 0:
                self.off(self.stop_reason)

    def step_start(self, marks):
        self.intervals += marks
        if self.intervals > 3:
            self.state, self.target = RUNNING, self.spinner.rpm
            self.segment, self.phase, self.phase_s = 0, 1, 0.0
        elif self.intervals == 0 and self.phase_s > 1.0:
            self.off(TACH_LOST)

    def step_run(self, dt):
        speed, slope, dwell = self.steps[self.segment]
        if self.phase == 1:
            way = speed - self.target
            self.target = speed if abs(way) <= slope * dt else self.target + slope * dt * (1 if way > 0 else -1)
            if self.target == speed:
                self.phase, self.phase_s = 2, 0.0
        elif self.phase_s >= dwell:
            if self.segment + 1 == len(self.steps):
                self.begin_stop(DONE)
            else:
                self.segment, self.phase, self.phase_s = self.segment + 1, 1, 0.0


class Driver:
    """The conversation of section 4 over one serial port."""

    REPORT_S = 0.02

    def __init__(self, port, powered_for_s):
        self.line = serial.Serial(port, 500000, timeout=0)
        self.receiver, self.pulses, self.motor = Receiver(), PulseSender(), Motor(powered_for_s)
        self.heard = False
        self.seq = 0
        self.report = 0
        self.reported_s = 0.0
        self.news = None
        self.clock_s = powered_for_s

    def send(self, kind, payload):
        self.line.write(frame(kind, self.seq, payload))
        self.seq = (self.seq + 1) % 256

    def run(self):
        last = time.monotonic()
        while True:
            time.sleep(0.001)
            now = time.monotonic()
            self.advance(now - last)
            last = now

    def advance(self, dt):
        for byte in self.line.read(4096):
            self.obey(self.receiver.take(byte))
        for into, mark in self.motor.advance(dt):
            at = self.clock_s + into
            self.pulses.add(int(at * TICK_DENOMINATOR), int(at * 1000), mark, self.heard)
        self.clock_s += dt
        if self.heard:
            self.tell()

    def obey(self, what):
        if what == "cut":
            self.motor.off(OPERATOR_CUT)
            self.news = None
        elif what == "stop":
            self.motor.stop()
            self.news = None
        elif what is not None:
            self.take_frame(*what)

    def take_frame(self, kind, seq, payload):
        if kind == HELLO and len(payload) >= 6:
            self.greet(payload)
            return
        try:
            self.command(kind, payload)
        except Refused as refused:
            self.send(NAK, struct.pack("<BBBII", kind, seq, *refused.args))
        else:
            if kind != KEEPALIVE:
                self.send(ACK, bytes((kind, seq)))

    def greet(self, payload):
        lowest, highest, nonce = struct.unpack("<BBI", payload[:6])
        self.motor.off(NEW_HOST)
        self.send(HELLO_REPLY, struct.pack(
            "<BBIBBBIIBHBIIIBHB", 1, 1, nonce, 0, 1, 0, TICK_NUMERATOR, TICK_DENOMINATOR, TICK_BITS, MARKS,
            0b0111, SPEED_MAX, SPEED_MIN, SLOPE_MAX, SEGMENTS_MAX, STILL_MS, len(NAME)) + NAME)
        self.heard = lowest <= 1 <= highest

    def command(self, kind, payload):
        if not self.heard:
            raise Refused(NAK_NO_HELLO, 0, 0)
        if kind not in LENGTHS and kind != HELLO:
            raise Refused(NAK_UNKNOWN_TYPE, 0, 0)
        if len(payload) != LENGTHS.get(kind, 6):
            raise Refused(NAK_BAD_LENGTH, len(payload), LENGTHS.get(kind, 6))
        if kind == KEEPALIVE:
            self.keep_alive(struct.unpack("<H", payload)[0])
        elif kind == CLEAR:
            self.motor.clear()
        elif kind == SEGMENT:
            self.motor.put(payload)
        else:
            self.motor.start(payload)

    def keep_alive(self, named):
        if (self.report - 1 - named) % 65536 <= 12:
            self.motor.fed_s = 0.0

    def tell(self):
        motor = self.motor
        news = (motor.state, self.shown_latch(), motor.lid_open, motor.turning())
        if news != self.news or self.clock_s - self.reported_s >= self.REPORT_S:
            self.news, self.reported_s = news, self.clock_s
            self.send(STATUS, self.status())
            self.report = (self.report + 1) % 65536
        batch = self.pulses.due(int(self.clock_s * 1000))
        if batch:
            self.send(PULSES, batch)

    def shown_latch(self):
        return self.motor.stop_reason if self.motor.state == STOPPING else self.motor.latch

    def status(self):
        motor = self.motor
        command = int(min(1000.0, motor.spinner.rpm / 6)) if motor.turning() else 0
        return struct.pack(
            "<HBBBBBBIIHIIIHHI", self.report, motor.state, self.shown_latch(), 2 if motor.lid_open else 1,
            (1 if motor.turning() else 0) | (2 if motor.still() else 0), motor.segment, motor.phase,
            int(max(0.0, motor.target) * 1000), int(motor.spinner.rpm * 1000), command,
            int(self.clock_s * 1000) & 0xFFFFFFFF, int(motor.phase_s * 1000), self.pulses.captured & 0xFFFFFFFF,
            0, self.receiver.discarded & 0xFFFF, motor.token)


def main():
    words = argparse.ArgumentParser()
    words.add_argument("port")
    words.add_argument("--powered-for", type=float, default=0.0, metavar="S")
    given = words.parse_args()
    driver = Driver(given.port, given.powered_for)
    signal.signal(signal.SIGUSR1, lambda *_: setattr(driver.motor, "lid_open", True))
    signal.signal(signal.SIGUSR2, lambda *_: setattr(driver.motor, "lid_open", False))
    print("ready", flush=True)
    driver.run()


if __name__ == "__main__":
    main()
