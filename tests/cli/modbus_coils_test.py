"""`whirler check`, `prove` and `run` on drives that are run by coils, by a word for both ways, and on wrong files.

    modbus_coils_test.py WHIRLER SOURCE_DIR
"""

import itertools
import json
import sys
import time
import unittest

from modbus_peer import Motor, Peer
from modbus_shop import SOURCE, Shop

MACHINE = (SOURCE / "profiles/machines/inverter_modbus.json").read_text()
MACHINE = MACHINE.replace("/dev/ttyUSB5", "PORT").replace("../drives/sedge.json", "drive.json")
MACHINE = MACHINE.replace('"ramp_rpm_s": 1000', '"ramp_rpm_s": 2000').replace('"direction": "ccw"', '"direction": "WAY"')


class CoilMotor(Motor):
    """Coils: 0 runs, 1 turns it counterclockwise, 2 resets. Inputs: 0 works, 8 over current, 10 silence."""

    def __init__(self):
        super().__init__()
        self.coils, self.word_writes = {}, []

    def read_coil(self, address):
        return self.coils.get(address, 0)

    def read_discrete(self, address):
        with self.lock:
            self.spoken = time.monotonic()
            self.turn()
            return {0: int(self.holding[0] != 0), 8: self.fault & 1, 10: self.fault >> 4 & 1}.get(address, 0)

    def write_coil(self, address, value):
        with self.lock:
            self.spoken = time.monotonic()
            self.turn()
            self.coils[address] = int(bool(value))
            if address < 2:
                self.holding[address] = int(bool(value))
            elif address == 2 and value:
                self.fault = self.holding[0] = 0


class WordMotor(Motor):
    """One register for all: 1 runs it clockwise, 2 counterclockwise, 5 stops, 6 lets it coast, 7 resets."""

    stops_by = (5, 6)

    def write_holding(self, address, value):
        with self.lock:
            self.spoken = time.monotonic()
            self.turn()
            if address == 40:
                self.holding[40] = value
                if value in (1, 2):
                    self.holding[0], self.holding[1] = 1, value
                if value in self.stops_by:
                    self.holding[0] = 0
                if value == 7:
                    self.fault = self.holding[0] = 0
                return
            self.holding[address] = value


def drive(**keys):
    said = {"kind": "drive", "format": 1, "name": "clover", "unit": 3, "reply": {"within_ms": 200},
            "target": {"address": 2, "scale_rpm": 1},
            "actual": {"address": 16, "function": 4, "scale_rpm": 1, "from": "encoder"},
            "fault": {"address": 18, "function": 4, "mask": "0x0011", "bits": [{"bit": 0, "says": "over current"}]},
            "dead_man": {"address": 4, "scale_s": 0.1, "time_ms": 500},
            "run": {"address": 40, "cw": 1, "ccw": 2, "off": 5}, "fault_reset": {"address": 40, "value": 7}}
    said.update(keys)
    return {key: value for key, value in said.items() if value is not None}


COILS = drive(run={"address": 0, "function": 5, "on": 1, "off": 0},
              direction={"address": 1, "function": 5, "cw": 0, "ccw": 1},
              fault_reset={"address": 2, "function": 5, "value": 1},
              running={"address": 0, "function": 2, "value": 1},
              fault={"address": 8, "function": 2, "mask": 5,
                     "bits": [{"bit": 0, "says": "over current"}, {"bit": 2, "says": "silence"}]})


class Scene(unittest.TestCase):
    def scene(self, motor, said, way="cw"):
        peer = self.enterContext(Peer(unit=3, motor=motor))
        shop = self.enterContext(Shop(peer, MACHINE.replace("WAY", way), json.dumps(said, indent=1)))
        shop.peer = peer
        return shop

    def proven(self, shop):
        proven = shop.prove()
        self.assertEqual(proven.returncode, 0, proven.stderr)
        return json.loads(proven.stdout)


class Bits(Scene):
    def test_a_drive_run_by_coils_is_proven_and_run_and_trips_in_its_own_words(self):
        motor = CoilMotor()
        shop = self.scene(motor, COILS, "ccw")
        self.assertGreater(self.proven(shop)["stop_to_rest_s"], 0)
        ran = shop.run()
        self.assertEqual(ran.returncode, 0, ran.stderr)
        self.assertAlmostEqual(motor.top, 1200, delta=15)
        self.assertEqual((motor.holding[0], motor.coils[0], motor.coils[1]), (0, 0, 1))
        motor.trips_at = 900
        ran = shop.run()
        self.assertEqual(ran.returncode, 5, ran.stderr)
        self.assertIn("over current", json.loads(ran.stdout)["cause"])
        motor.trips_at = None
        self.assertEqual(shop.run().returncode, 0)  # the coil 2 has reset it

    def test_one_word_runs_a_drive_either_way(self):
        for way, word in (("cw", 1), ("ccw", 2)):
            with self.subTest(way=way):
                motor = WordMotor()
                shop = self.scene(motor, drive(cut=[{"write": 40, "value": 6}]), way)
                self.proven(shop)
                ran = shop.run()
                self.assertEqual(ran.returncode, 0, ran.stderr)
                self.assertEqual(motor.holding[1], word)
                self.assertAlmostEqual(motor.top, 1200, delta=15)
                self.assertEqual(motor.holding[0], 0)


class Wrong(Scene):
    def test_files_that_cannot_stop_or_contradict_themselves_are_refused_and_nothing_is_said_to_the_drive(self):
        wrongs = {"/cut/0/value": drive(run={"address": 40, "on": 1, "off": 5}, cut=[{"write": 40, "value": 1}]),
                  "/stop/0/value": drive(run=None, start=[{"write": 40, "value": 1}], stop=[{"write": 41, "value": 0}]),
                  "/setup/0/value": drive(setup=[{"write": 40, "value": 1}]),
                  "/direction/address": drive(direction={"address": 40, "cw": 0, "ccw": 2}),
                  "/target/scale_rpm": drive(target={"address": 2, "scale_rpm": 500}),
                  "/running/mask": drive(running={"address": 17, "mask": 0, "value": 0})}
        motor = WordMotor()
        shop = self.scene(motor, drive())
        shop.check_refused(self, wrongs)
        self.assertEqual(set(motor.holding.values()), {0})

    def test_a_machine_that_turns_faster_than_its_drive_may_is_refused_with_both_numbers(self):
        motor = WordMotor()
        shop = self.scene(motor, drive(limits={"speed_rpm": 2000}))
        for refused in (shop.ask("check", "machine.json"), shop.ask("check", "machine.json", "drive.json"),
                        shop.prove(), shop.run()):
            self.assertEqual(refused.returncode, 3, refused.stderr)
            for word in ("2800", "2000", "/limits/speed_rpm", "machine.json:"):
                self.assertIn(word, refused.stderr)
        self.assertEqual(set(motor.holding.values()), {0})

    def test_a_drive_without_a_time_out_is_cautioned_by_check_and_said_by_prove_before_the_port(self):
        shop = self.scene(WordMotor(), drive(dead_man=None))
        for checked in (shop.ask("check", "drive.json"), shop.ask("check", "machine.json")):
            self.assertEqual(checked.returncode, 0, checked.stderr)
            self.assertIn("--no-drive-timeout", json.loads(checked.stdout)["files"][0]["cautions"][0])
        machine = (shop.folder / "machine.json").read_text()
        shop.write("machine.json", machine.replace("/dev/", "/dev/no/"))
        proven = shop.prove()
        self.assertEqual(proven.returncode, 3, proven.stderr)
        self.assertIn("dead_man", proven.stderr)
        self.assertNotIn("port", proven.stderr)

    def test_a_scale_that_is_ten_times_wrong_is_found_by_prove_before_the_hub_is_fast(self):
        motor = WordMotor()
        shop = self.scene(motor, drive(target={"address": 2, "scale_rpm": 0.1}))  # the motor has 1 rpm a count
        proven = shop.prove()
        self.assertEqual(proven.returncode, 5, proven.stderr)
        self.assertIn("scale_rpm", proven.stderr)
        self.assertLess(motor.top, 900)  # of 2000
        self.assertEqual(motor.holding[0], 0)

    def test_a_line_that_is_unplugged_is_a_link_that_is_lost_and_the_drive_stops_by_itself(self):
        motor = WordMotor()
        shop = self.scene(motor, drive())
        self.proven(shop)
        shop.change("short.json", '"dwell_s": 0.7', '"dwell_s": 30')
        run = shop.begin()
        begin = time.monotonic()
        while motor.rpm < 1190 and time.monotonic() - begin < 20:
            time.sleep(0.005)
        shop.peer.unplug()
        said, told = run.communicate(timeout=30)
        self.assertEqual(run.returncode, 4, told)
        self.assertIn("port went away", said + told)
        time_out = time.monotonic() + 3
        while motor.rpm > 0 and time.monotonic() < time_out:
            time.sleep(0.005)
        self.assertEqual((motor.rpm, motor.fault), (0, 0x10))

    def test_a_second_unit_that_talks_on_the_line_costs_no_run(self):
        motor = WordMotor()
        shop = self.scene(motor, drive())
        self.proven(shop)
        talk = bytes.fromhex("090302126714ce")  # unit 9 answers somebody
        count = itertools.count()
        shop.peer.spoil = lambda reply: talk + reply if next(count) % 5 == 0 else reply
        ran = shop.run()
        self.assertEqual(ran.returncode, 0, ran.stderr)
        self.assertAlmostEqual(motor.top, 1200, delta=15)

    def test_a_drive_that_does_not_obey_its_stop_is_not_proven(self):
        motor = WordMotor()
        motor.stops_by = (6,)
        shop = self.scene(motor, drive(cut=[{"write": 40, "value": 6}]))
        proven = shop.prove()
        self.assertEqual(proven.returncode, 5, proven.stderr)
        self.assertIn('after its \\"stop\\" was written', proven.stdout)
        self.assertEqual((motor.holding[0], motor.fault), (0, 0))  # cut, and not by its time-out
        self.assertEqual(shop.run().returncode, 3)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1], warnings="ignore")
