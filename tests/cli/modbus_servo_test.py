"""`whirler prove` and `whirler run` on profiles/drives/marram.json: a CiA 402 servo behind pymodbus's server.

    modbus_servo_test.py WHIRLER SOURCE_DIR
"""

import json
import signal
import sys
import time
import unittest

from modbus_peer import Peer
from modbus_servo import Servo
from modbus_shop import marram_shop

UP = ["switch on disabled", "ready", "switched on", "operation enabled"]


def until(holds, most_s=20.0):
    begin = time.monotonic()
    while not holds() and time.monotonic() - begin < most_s:
        time.sleep(0.005)
    return holds()


class OnServo(unittest.TestCase):
    def setUp(self):
        self.servo, self.other = Servo(), Servo()
        self.peer = self.enterContext(Peer(unit=1, motor=self.servo, other=self.other))
        self.shop = self.enterContext(marram_shop(self.peer))

    def prove(self):
        proven = self.shop.prove()
        self.assertEqual(proven.returncode, 0, proven.stderr)
        self.servo.states = [self.servo.state]

    def long_dwell(self):
        self.shop.change("short.json", '"dwell_s": 0.7', '"dwell_s": 30')

    def stands(self):
        return until(lambda: self.servo.rpm == 0) and self.servo.state != "operation enabled"

    def test_proven_by_its_own_time_out_then_run_by_its_own_slopes(self):
        proven = self.shop.prove()
        self.assertEqual(proven.returncode, 0, proven.stderr)
        self.assertIn("fault", self.servo.states)  # its time-out
        self.assertEqual(self.servo.words[0x2005], 500)
        self.servo.states = [self.servo.state]
        ran = self.shop.run()
        self.assertEqual(ran.returncode, 0, ran.stderr)
        answer = json.loads(ran.stdout)
        self.assertEqual(answer["outcome"], "done")
        self.assertTrue(answer["reached"])
        self.assertLess(answer["peak_error_rpm"], 20)
        self.assertAlmostEqual(self.servo.top, 1200, delta=5)
        # Out of the proof's fault by a rising edge, up by the standard's way, down at the end.
        self.assertEqual(self.servo.states[-1], "switch on disabled")
        climbed = [s for s in self.servo.states if s in UP]
        self.assertEqual(climbed[climbed.index("ready") - 1:][:4], UP)
        self.assertEqual((self.servo.words[0x6083], self.servo.words[0x6084]), (2000, 2000))
        self.assertEqual(self.servo.words[0x6060], 3)
        self.assertEqual((self.other.top, self.other.states), (0, UP[:1]))
        self.assertEqual(answer["jitter"]["verdict"], "cannot_tell")
        self.assertIn("no tach", answer["jitter"]["reason"])

    def test_counterclockwise_is_a_negative_target(self):
        self.shop.change("machine.json", '"direction": "cw"', '"direction": "ccw"')
        self.prove()
        seen = []
        self.servo.turn, turn = lambda: (turn(), seen.append(self.servo.rpm)), self.servo.turn
        ran = self.shop.run()
        self.assertEqual(ran.returncode, 0, ran.stderr)
        self.assertAlmostEqual(min(seen), -1200, delta=5)
        self.assertLessEqual(max(seen), 0)

    def test_ctrl_c_stops_along_the_ramp_and_then_lets_go(self):
        self.prove()
        self.long_dwell()
        run = self.shop.begin()
        self.assertTrue(until(lambda: self.servo.rpm > 1190))
        run.send_signal(signal.SIGINT)
        begin = time.monotonic()
        said, told = run.communicate(timeout=30)
        self.assertEqual(run.returncode, 5, told)
        self.assertIn("operator", json.loads(said)["cause"])
        self.assertLess(time.monotonic() - begin, 6)
        self.assertTrue(self.stands())
        self.assertNotIn("fault", self.servo.states[1:])
        self.assertEqual(self.servo.states[-2:], ["switched on", "switch on disabled"])

    def test_a_fault_in_the_middle_of_a_ramp_is_said_in_the_files_words_and_cleared_by_the_next_run(self):
        self.prove()
        self.servo.trips_at = 900
        ran = self.shop.run()
        self.assertEqual(ran.returncode, 5, ran.stderr)
        self.assertIn("motor current too high for too long (code 0x2310)", json.loads(ran.stdout)["cause"])
        self.assertLess(self.servo.top, 1000)
        self.assertTrue(self.stands())
        self.servo.trips_at = None
        self.assertEqual(self.shop.run().returncode, 0)

    def test_one_that_is_never_enabled_turns_nothing_and_says_which_state_did_not_come(self):
        self.prove()
        self.servo.top = 0
        for state, awaited in (("switch on disabled", "0x0021"), ("ready", "0x0023"), ("switched on", "0x0027")):
            with self.subTest(state=state):
                self.servo.stays_in = state
                ran = self.shop.run()
                self.assertEqual(ran.returncode, 5, ran.stderr)
                self.assertIn(f"awaited {awaited}", ran.stderr)
                self.assertEqual(self.servo.top, 0)
                self.assertEqual(self.servo.state, "switch on disabled")

    def test_its_stop_input_ends_the_run(self):
        self.prove()
        self.long_dwell()
        run = self.shop.begin()
        self.assertTrue(until(lambda: self.servo.rpm > 1190))
        with self.servo.lock:
            self.servo.enter("switch on disabled")  # STO: lid or emergency stop
        said, told = run.communicate(timeout=30)
        self.assertEqual(run.returncode, 5, told)
        self.assertIn("stop input", json.loads(said)["cause"])
        self.assertTrue(self.stands())

    def test_a_killed_program_leaves_the_drive_to_its_own_time_out(self):
        self.prove()
        self.long_dwell()
        run = self.shop.begin()
        self.assertTrue(until(lambda: self.servo.rpm > 1190))
        run.kill()
        begin = time.monotonic()
        run.communicate()
        self.assertTrue(until(lambda: self.servo.state == "fault", 3))
        self.assertLess(time.monotonic() - begin, 1.0)
        self.assertEqual(self.servo.words[0x603F], 0x7500)
        self.assertTrue(self.stands())

    def test_a_profile_over_the_drives_or_the_machines_limit_turns_nothing(self):
        self.prove()
        self.servo.top = 0
        self.shop.change("short.json", "1200", "4500")
        refused = self.shop.run()
        self.assertEqual(refused.returncode, 3, refused.stderr)
        self.assertIn("4500 rpm", refused.stderr)
        self.assertIn("4000 rpm", refused.stderr)
        self.assertEqual(self.servo.top, 0)

    def test_one_whose_time_out_does_nothing_is_not_proven(self):
        self.servo.has_dead_man = False
        self.assertEqual(self.shop.prove().returncode, 5)
        self.assertEqual(self.shop.run().returncode, 3)
        self.assertTrue(self.stands())


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1], warnings="ignore")
