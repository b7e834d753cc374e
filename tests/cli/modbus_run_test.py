"""`whirler prove` and `whirler run` on a drive that pymodbus's server plays: files to record.

    modbus_run_test.py WHIRLER SOURCE_DIR
"""

import json
import os
import pathlib
import pty
import subprocess
import sys
import tempfile
import unittest

from modbus_peer import Peer

WHIRLER, SOURCE = sys.argv[1], pathlib.Path(sys.argv[2])
PROFILE = {"kind": "profile", "format": 1, "name": "short",
           "steps": [{"speed_rpm": 600, "ramp_rpm_s": 2000, "dwell_s": 0.3},
                     {"speed_rpm": 1200, "ramp_rpm_s": 2000, "dwell_s": 0.7}],
           "stop": {"ramp_rpm_s": 2000}}


class Shop:
    """A folder with the shipped example files, their port made the peer's, and a notebook."""

    def __init__(self, peer):
        self.held = tempfile.TemporaryDirectory()
        self.folder = pathlib.Path(self.held.name)
        self.write("short.json", json.dumps(PROFILE))
        drive = (SOURCE / "profiles/drives/sedge.json").read_text().replace('"from": "estimate"', '"from": "encoder"')
        self.write("sedge.json", drive)
        machine = (SOURCE / "profiles/machines/inverter_modbus.json").read_text()
        machine = machine.replace("/dev/ttyUSB5", peer.port).replace("../drives/sedge.json", "sedge.json")
        self.write("machine.json", machine.replace('"ramp_rpm_s": 1000', '"ramp_rpm_s": 2000'))

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.held.cleanup()

    def write(self, name, text):
        (self.folder / name).write_text(text)

    def change(self, name, old, new):
        text = (self.folder / name).read_text()
        assert old in text
        self.write(name, text.replace(old, new))

    def ask(self, *words, stdin=subprocess.DEVNULL):
        return subprocess.run([WHIRLER, *words, "--notebook", "notebook.db", "--json"], cwd=self.folder, stdin=stdin,
                              capture_output=True, text=True, timeout=60, check=False)

    def run(self, *more, **how):
        return self.ask("run", "short.json", "--machine", "machine.json", *more, **how)

    def prove(self, *more):
        return self.ask("prove", "machine.json", "--lid-closed", *more)

    def ask_typing_yes(self, *words):
        near, far = pty.openpty()
        os.write(near, b"yes\n")
        said = self.run(*words, stdin=far)
        os.close(far)
        os.close(near)
        return said


class OnPymodbus(unittest.TestCase):
    def test_unproven_then_proven_then_run_then_read(self):
        with Peer(unit=3) as peer, Shop(peer) as shop:
            refused = shop.run()
            self.assertEqual(refused.returncode, 3, refused.stderr)
            self.assertIn("whirler prove", refused.stderr)
            self.assertEqual(peer.motor.top, 0)

            proven = shop.prove()
            self.assertEqual(proven.returncode, 0, proven.stderr)
            self.assertTrue(json.loads(proven.stdout)["proven"])
            self.assertEqual(peer.motor.fault, 0x10)

            ran = shop.run()
            self.assertEqual(ran.returncode, 0, ran.stderr)
            answer = json.loads(ran.stdout)
            self.assertEqual(answer["outcome"], "done")
            self.assertTrue(answer["reached"])
            self.assertLess(answer["peak_error_rpm"], 20)
            self.assertEqual(answer["jitter"]["verdict"], "cannot_tell")
            self.assertIn("no tach", answer["jitter"]["reason"])
            self.assertAlmostEqual(peer.motor.top, 1200, delta=15)
            self.assertEqual(peer.motor.holding[1], 1)  # the machine turns counterclockwise
            self.assertEqual(peer.motor.holding[0], 0)
            self.assertEqual(peer.other.top, 0)

            coat = str(answer["coat"])
            jitter = shop.ask("jitter", coat)
            self.assertEqual(jitter.returncode, 0, jitter.stderr)
            self.assertEqual(json.loads(jitter.stdout)["verdict"], "cannot_tell")
            shown = shop.ask("show", coat)
            self.assertEqual(shown.returncode, 0, shown.stderr)
            page = shop.ask("report", coat, "--output", "page.html")
            self.assertEqual(page.returncode, 0, page.stderr)

    def test_a_changed_file_asks_for_a_new_proof(self):
        with Peer(unit=3) as peer, Shop(peer) as shop:
            self.assertEqual(shop.prove().returncode, 0)
            shop.change("sedge.json", '"time_ms": 500', '"time_ms": 600')
            self.assertEqual(shop.run().returncode, 3)

    def test_a_drive_that_turns_on_in_silence_is_not_proven(self):
        with Peer(unit=3) as peer, Shop(peer) as shop:
            peer.motor.has_dead_man = False
            self.assertEqual(shop.prove().returncode, 5)
            self.assertEqual(shop.run().returncode, 3)
            self.assertEqual(peer.motor.holding[0], 0)

    def test_a_drive_that_trips_ends_the_run_by_its_own_words(self):
        with Peer(unit=3) as peer, Shop(peer) as shop:
            self.assertEqual(shop.prove().returncode, 0)
            peer.motor.trips_at = 900
            ran = shop.run()
            self.assertEqual(ran.returncode, 5, ran.stderr)
            self.assertIn("over current", json.loads(ran.stdout)["cause"])

    def test_without_a_dead_man_only_wired_stops_and_a_typed_yes_will_do(self):
        with Peer(unit=3) as peer, Shop(peer) as shop:
            shop.change("sedge.json", '"dead_man": {"address": 4, "scale_s": 0.1, "time_ms": 500},', "")
            self.assertEqual(shop.run().returncode, 3)
            self.assertEqual(shop.run("--no-drive-timeout").returncode, 3)  # nobody there to type
            self.assertEqual(peer.motor.top, 0)
            ran = shop.ask_typing_yes("--no-drive-timeout")
            self.assertEqual(ran.returncode, 0, ran.stderr)
            self.assertIn("no-drive-timeout", shop.ask("show", str(json.loads(ran.stdout)["coat"])).stdout)
            shop.change("machine.json", '"lid": "wired_to_drive"', '"lid": "none"')
            refused = shop.ask_typing_yes("--no-drive-timeout", "--lid-closed")
            self.assertEqual(refused.returncode, 3)

    def test_nobody_there_is_a_link_that_is_lost(self):
        with Peer(unit=3) as peer, Shop(peer) as shop:
            self.assertEqual(shop.prove().returncode, 0)
            shop.change("sedge.json", '"unit": 3', '"unit": 9')
            self.assertEqual(shop.prove("--patience", "0.5s").returncode, 4)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1], warnings="ignore")
