"""`whirler prove` and `whirler run` on a drive that pymodbus's server plays: files to record.

    modbus_run_test.py WHIRLER SOURCE_DIR
"""

import json
import sys
import unittest

from modbus_peer import Peer
from modbus_shop import sedge_shop


class OnPymodbus(unittest.TestCase):
    def test_unproven_then_proven_then_run_then_read(self):
        with Peer(unit=3) as peer, sedge_shop(peer) as shop:
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
        with Peer(unit=3) as peer, sedge_shop(peer) as shop:
            self.assertEqual(shop.prove().returncode, 0)
            shop.change("drive.json", '"time_ms": 500', '"time_ms": 600')
            self.assertEqual(shop.run().returncode, 3)

    def test_a_drive_that_turns_on_in_silence_is_not_proven(self):
        with Peer(unit=3) as peer, sedge_shop(peer) as shop:
            peer.motor.has_dead_man = False
            self.assertEqual(shop.prove().returncode, 5)
            self.assertEqual(shop.run().returncode, 3)
            self.assertEqual(peer.motor.holding[0], 0)

    def test_a_drive_that_trips_ends_the_run_by_its_own_words(self):
        with Peer(unit=3) as peer, sedge_shop(peer) as shop:
            self.assertEqual(shop.prove().returncode, 0)
            peer.motor.trips_at = 900
            ran = shop.run()
            self.assertEqual(ran.returncode, 5, ran.stderr)
            self.assertIn("over current", json.loads(ran.stdout)["cause"])

    def test_without_a_dead_man_only_wired_stops_and_a_typed_yes_will_do(self):
        with Peer(unit=3) as peer, sedge_shop(peer) as shop:
            shop.change("drive.json", '"dead_man": {"address": 4, "scale_s": 0.1, "time_ms": 500},', "")
            self.assertEqual(shop.run().returncode, 3)
            self.assertEqual(shop.run("--no-drive-timeout").returncode, 3)  # nobody there to type
            self.assertEqual(peer.motor.top, 0)
            ran = shop.ask_typing_yes("--no-drive-timeout")
            self.assertEqual(ran.returncode, 0, ran.stderr)
            self.assertIn("no-drive-timeout", shop.ask("show", str(json.loads(ran.stdout)["coat"])).stdout)
            shop.change("machine.json", '"lid": "wired_to_drive"', '"lid": "none"')
            refused = shop.ask_typing_yes("--no-drive-timeout", "--lid-closed")
            self.assertEqual(refused.returncode, 3)

    def test_two_replies_lost_in_a_row_cost_the_run_nothing(self):
        with Peer(unit=3) as peer, sedge_shop(peer) as shop:
            shop.change("drive.json", '"format": 1,', '"format": 1, "reply": {"within_ms": 200},')
            self.assertEqual(shop.prove().returncode, 0)
            lost = []

            def lose_two(reply):
                if peer.motor.rpm < 1100 or len(lost) == 2:
                    return reply
                lost.append(reply)
                return b""

            peer.spoil = lose_two
            ran = shop.run()
            self.assertEqual(ran.returncode, 0, ran.stdout)
            self.assertEqual(len(lost), 2)

    def test_a_drive_that_falls_silent_is_a_link_that_is_lost(self):
        with Peer(unit=3) as peer, sedge_shop(peer) as shop:
            self.assertEqual(shop.prove().returncode, 0)
            peer.spoil = lambda reply: reply if peer.motor.rpm < 1100 else b""
            ran = shop.run()
            self.assertEqual(ran.returncode, 4, ran.stdout)
            self.assertEqual(peer.motor.holding[0], 0)  # told to stop all the same

    def test_nobody_there_is_a_link_that_is_lost(self):
        with Peer(unit=3) as peer, sedge_shop(peer) as shop:
            self.assertEqual(shop.prove().returncode, 0)
            shop.change("drive.json", '"unit": 3', '"unit": 9')
            self.assertEqual(shop.prove("--patience", "0.5s").returncode, 4)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1], warnings="ignore")
