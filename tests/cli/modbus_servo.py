"""A servo drive by CiA 402 / IEC 61800-7-201 for the Modbus peer: profiles/drives/marram.json's registers.

States and their statusword bits, commands and their controlword bits, and the numbered transitions
are the standard's, from memory. Each object is a plain Modbus register (two for 32 bits, high word
first), so that two objects that a file lays over each other spoil each other, as in a real table.
"""

import threading
import time

CONTROL, STATUS, CODE, MODE = 0x6040, 0x6041, 0x603F, 0x6060
TARGET, ACTUAL, UP, DOWN, TIME_OUT = 0x60FF, 0x606C, 0x6083, 0x6084, 0x2005
WORDS = {CONTROL: 1, STATUS: 1, CODE: 1, MODE: 1, TARGET: 2, ACTUAL: 2, UP: 1, DOWN: 1, TIME_OUT: 1}
# Statusword under the mask 0x006F (0x004F where the standard leaves bit 5 open).
BITS = {"switch on disabled": 0x40, "ready": 0x21, "switched on": 0x23, "operation enabled": 0x27,
        "quick stop": 0x07, "fault": 0x08}
QUICK_RPM_S, COAST_RPM_S = 8000.0, 1500.0


class Servo:
    def __init__(self):
        self.words = {at + i: 0 for at, size in WORDS.items() for i in range(size)}
        self.state, self.rpm, self.top = "switch on disabled", 0.0, 0.0
        self.states = [self.state]
        self.trips_at = None        # rpm: over current
        self.stays_in = None        # a state that it does not leave upwards
        self.has_dead_man = True
        self.last = self.spoken = time.monotonic()
        self.lock = threading.Lock()

    # ---- registers

    def has_register(self, address):
        return address in self.words

    def long(self, at):
        value = self.words[at] << 16 | self.words[at + 1]
        return value - (1 << 32) if value >> 31 else value

    def read_holding(self, address):
        with self.lock:
            self.heard()
            self.words[STATUS] = BITS[self.state] | 0x0200
            count = round(10 * self.rpm) & 0xFFFFFFFF
            self.words[ACTUAL], self.words[ACTUAL + 1] = count >> 16, count & 0xFFFF
            return self.words[address]

    read_input = read_holding

    def write_holding(self, address, value):
        with self.lock:
            self.heard()
            before, self.words[address] = self.words[address], value
            if address == CONTROL:
                self.command(before, value)

    def heard(self):
        self.turn()
        self.spoken = time.monotonic()

    # ---- state machine

    def enter(self, state):
        if state != self.state:
            self.state = state
            self.states.append(state)

    def command(self, before, word):
        if self.state == "fault":
            if word & 0x80 and not before & 0x80:
                self.words[CODE] = 0
                self.enter("switch on disabled")  # 15
            return
        low = word & 0x0F
        if not word & 0x02:
            return self.enter("switch on disabled")  # 7, 9, 10, 12: disable voltage
        if not word & 0x04:  # quick stop: 7, 10, 11
            return self.enter("quick stop" if self.state in ("operation enabled", "quick stop")
                              else "switch on disabled")
        if self.state == self.stays_in or self.state == "quick stop":
            return None
        steps = {("switch on disabled", 0x06): "ready", ("ready", 0x07): "switched on",  # 2, 3
                 ("switched on", 0x0F): "operation enabled", ("operation enabled", 0x07): "switched on",  # 4, 5
                 ("switched on", 0x06): "ready", ("operation enabled", 0x06): "ready"}  # 6, 8
        wanted = low if low == 0x0F else low & 0x07
        return self.enter(steps.get((self.state, wanted), self.state))

    def fail(self, code):
        self.words[CODE] = code  # 13 and 14
        self.enter("fault")

    # ---- motor

    def turn(self):
        now = time.monotonic()
        step, self.last = now - self.last, now
        limit = 0.001 * self.words[TIME_OUT]
        on = self.state == "operation enabled"
        if on and limit and now - self.spoken > limit and self.has_dead_man:
            self.fail(0x7500)
        if on and self.trips_at is not None and abs(self.rpm) > self.trips_at:
            self.fail(0x2310)
        goal, slope = 0.0, COAST_RPM_S
        if self.state == "operation enabled" and self.words[MODE] == 3:
            goal = 0.1 * self.long(TARGET)
            slope = self.words[UP if abs(goal) > abs(self.rpm) else DOWN]
        elif self.state == "quick stop":
            slope = QUICK_RPM_S
            if self.rpm == 0:
                self.enter("switch on disabled")
        most = slope * step
        self.rpm += max(-most, min(most, goal - self.rpm))
        self.top = max(self.top, abs(self.rpm))

    def run_alone(self, ended):
        while not ended.wait(0.005):
            with self.lock:
                self.turn()
