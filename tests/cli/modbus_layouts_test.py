"""`whirler prove` and `whirler run` on drive files of many layouts, each against a table of that layout.

    modbus_layouts_test.py WHIRLER SOURCE_DIR

The peer packs and unpacks by Python's struct, so that type, word order, scale and offset are
understood twice, by two programs.
"""

import json
import struct
import sys
import threading
import time
import unittest

from modbus_peer import Peer
from modbus_shop import Shop

FORMS = {"u16": ">H", "s16": ">h", "u32": ">I", "s32": ">i", "f32": ">f"}
MACHINE = """{"kind": "machine", "format": 1, "name": "bench",
"drive": {"type": "modbus", "port": "PORT", "baud": 19200, "description": "drive.json"}, "direction": "DIRECTION",
"tach": {"marks_per_turn": 1, "mark_radius_mm": 20, "index": false, "sensor_on": "ground"},
"lid": "wired_to_drive", "air": "lidded", "limits": {"speed_rpm": 2500, "speed_min_rpm": 150, "ramp_rpm_s": 3000},
"rotor": {"mass_g": 900, "inertia_kg_m2": 6e-4}, "motor": {"torque_N_m": 0.4, "current": "ac"}}"""


class Table:
    """A drive by its own drive file: what the file says of a register is where the motor finds it."""

    def __init__(self, said):
        self.said, self.words = said, {}
        self.rpm, self.top, self.fault = 0.0, 0.0, 0
        self.trips_at, self.resets = None, "fault_reset" in said
        self.last = self.spoken = time.monotonic()
        self.lock = threading.Lock()

    def order(self, cell):
        return cell.get("word_order", self.said.get("word_order", "high_first"))

    def get(self, key):
        cell = self.said[key]
        form = FORMS[cell.get("type", "u16")]
        words = [self.words.get(cell["address"] + i, 0) for i in range(struct.calcsize(form) // 2)]
        if self.order(cell) == "low_first":
            words.reverse()
        return struct.unpack(form, struct.pack(f">{len(words)}H", *words))[0]

    def put(self, key, count):
        cell = self.said[key]
        form = FORMS[cell.get("type", "u16")]
        packed = struct.pack(form, count if form == ">f" else round(count))
        words = list(struct.unpack(f">{len(packed) // 2}H", packed))
        if self.order(cell) == "low_first":
            words.reverse()
        for i, word in enumerate(words):
            self.words[cell["address"] + i] = word

    def on(self):
        return self.words.get(self.said["run"]["address"], 0) == self.said["run"]["on"]

    def limit_s(self):
        dead_man = self.said["dead_man"]
        return dead_man["fixed_ms"] / 1000 if "fixed_ms" in dead_man else dead_man["scale_s"] * self.get("dead_man")

    def slope(self):
        slope = self.said.get("slope")
        if not slope:
            return 50000.0
        count = self.get("slope")
        return count * slope["scale_rpm_s"] if "scale_rpm_s" in slope else slope["to_rpm"] / (count * slope["scale_s"])

    def turn(self):
        now = time.monotonic()
        step, self.last = now - self.last, now
        if self.on() and self.limit_s() and now - self.spoken > self.limit_s():
            self.fault |= 0x10
        if self.on() and self.trips_at and abs(self.rpm) > self.trips_at:
            self.fault |= 0x01
        if self.fault:
            self.words[self.said["run"]["address"]] = self.said["run"]["off"]
        target, goal, slope = self.said["target"], 0.0, 4000.0
        if self.on():
            goal = self.get("target") * target["scale_rpm"] + target.get("offset_rpm", 0)
            slope = self.slope()
        self.rpm += max(-slope * step, min(slope * step, goal - self.rpm))
        self.top = max(self.top, self.rpm, key=abs)

    def has_register(self, address):
        return 0 <= address < 65536

    def read_holding(self, address):
        with self.lock:
            self.turn()
            self.spoken = time.monotonic()
            actual = self.said["actual"]
            self.put("actual", (self.rpm - actual.get("offset_rpm", 0)) / actual["scale_rpm"])
            self.words[self.said["fault"]["address"]] = self.fault
            return self.words.get(address, 0)

    read_input = read_holding

    def write_holding(self, address, value):
        with self.lock:
            self.turn()
            self.spoken = time.monotonic()
            reset = self.said.get("fault_reset")
            if reset and address == reset["address"] and value == reset["value"]:
                self.fault = 0
            if not self.fault or address != self.said["run"]["address"]:
                self.words[address] = value

    def run_alone(self, ended):
        while not ended.wait(0.005):
            with self.lock:
                self.turn()


def drive(**keys):
    said = {"kind": "drive", "format": 1, "name": "table", "unit": 1,
            "target": {"address": 10, "scale_rpm": 1},
            "actual": {"address": 20, "scale_rpm": 1, "from": "encoder"},
            "run": {"address": 5, "on": 1, "off": 0},
            "fault": {"address": 30, "bits": [{"bit": 0, "says": "too much current"}]},
            "fault_reset": {"address": 31, "value": 7},
            "dead_man": {"address": 40, "scale_s": 0.001, "time_ms": 400}}
    said.update(keys)
    return {key: value for key, value in said.items() if value is not None}


BY_SIGN = {"negative": "ccw"}
LAYOUTS = {
    "f32, low word first in all": (1, drive(
        word_order="low_first", target={"address": 100, "type": "f32", "scale_rpm": 1},
        actual={"address": 200, "type": "f32", "scale_rpm": 1, "function": 4, "from": "encoder"})),
    "s32 in hundredths, low word first for one, negative is counterclockwise": (-1, drive(
        unit=247, direction=BY_SIGN, target={"address": 0, "type": "s32", "scale_rpm": 0.01},
        actual={"address": 500, "type": "s32", "scale_rpm": 0.01, "word_order": "low_first", "from": "encoder"})),
    "s16 with scale and offset, all written by 16, dead-man in whole seconds": (1, drive(
        write_function=16, target={"address": 10, "type": "s16", "scale_rpm": 0.5, "offset_rpm": 200},
        actual={"address": 20, "type": "s16", "scale_rpm": 0.5, "offset_rpm": -300, "from": "encoder"},
        dead_man={"address": 40, "scale_s": 1, "time_ms": 1000})),
    "u32, a slope as the time to a speed, dead-man in tenths": (1, drive(
        target={"address": 65534, "type": "u32", "scale_rpm": 0.1},
        slope={"address": 45, "scale_s": 0.1, "to_rpm": 3000},
        dead_man={"address": 40, "scale_s": 0.1, "time_ms": 300})),
    "s16 both ways with a slope as a rate of 32 bits, input registers, dead-man at the panel": (-1, drive(
        read_function=4, direction=BY_SIGN, target={"address": 10, "type": "s16", "scale_rpm": 1},
        actual={"address": 20, "type": "s16", "scale_rpm": 1, "from": "encoder"},
        slope={"address": 45, "type": "u32", "scale_rpm_s": 0.5}, dead_man={"fixed_ms": 500})),
}


def scene(test, said, way=1):
    table = Table(said)
    peer = test.enterContext(Peer(unit=said["unit"], motor=table))
    shop = test.enterContext(Shop(peer, MACHINE.replace("DIRECTION", "cw" if way > 0 else "ccw"), json.dumps(said)))
    return table, shop


class Layouts(unittest.TestCase):
    def run_through(self, way, said):
        table, shop = scene(self, said, way)
        proven = shop.prove()
        self.assertEqual(proven.returncode, 0, proven.stderr)
        self.assertEqual(table.fault, 0x10)
        table.top = 0.0
        ran = shop.run()
        self.assertEqual(ran.returncode, 0, ran.stderr)
        self.assertEqual(json.loads(ran.stdout)["outcome"], "done")
        self.assertAlmostEqual(table.top, way * 1200, delta=10)
        self.assertEqual((table.rpm, table.on()), (0, False))

    def test_each_layout_is_proven_and_run(self):
        for name, (way, said) in LAYOUTS.items():
            with self.subTest(layout=name):
                self.run_through(way, said)

    def test_a_fault_without_a_reset_is_said_again_before_the_next_run_turns_anything(self):
        said = drive(fault_reset=None)
        table, shop = scene(self, said)
        self.assertEqual(shop.prove().returncode, 0)
        table.top = 0.0
        ran = shop.run()  # the proof has left the drive in its time-out's fault
        self.assertEqual(ran.returncode, 5, ran.stderr)
        self.assertIn("the drive reports a fault: 0x0010", ran.stderr)
        self.assertEqual(table.top, 0)
        table.fault = 0  # by hand, at its panel
        table.trips_at = 900
        ran = shop.run()
        self.assertEqual(ran.returncode, 5, ran.stderr)
        self.assertIn("too much current", json.loads(ran.stdout)["cause"])

    def test_a_wrong_file_is_refused_where_it_is_wrong_and_nothing_is_said_to_the_drive(self):
        wrongs = {"/unit": drive(unit=0), "/target/type": drive(direction=BY_SIGN),
                  "/dead_man/time_ms": drive(dead_man={"address": 40, "scale_s": 1, "time_ms": 400}),
                  "/run/off": drive(run={"address": 5, "on": 1, "off": 1}),
                  "/slope_down/address": drive(slope={"address": 45, "type": "u32", "scale_rpm_s": 1},
                                               slope_down={"address": 46, "type": "u32", "scale_rpm_s": 1}),
                  "/actual/address": drive(actual={"address": 65535, "type": "s32", "scale_rpm": 1, "from": "encoder"})}
        table, shop = scene(self, drive())
        shop.check_refused(self, wrongs)
        self.assertEqual(table.words, {})


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1], warnings="ignore")
