"""A folder with a machine, a drive and a short profile, and the real program asked in it."""

import json
import os
import pathlib
import pty
import subprocess
import sys
import tempfile

WHIRLER, SOURCE = os.path.abspath(sys.argv[1]), pathlib.Path(sys.argv[2])
PROFILE = {"kind": "profile", "format": 1, "name": "short",
           "steps": [{"speed_rpm": 600, "ramp_rpm_s": 2000, "dwell_s": 0.3},
                     {"speed_rpm": 1200, "ramp_rpm_s": 2000, "dwell_s": 0.7}],
           "stop": {"ramp_rpm_s": 2000}}


class Shop:
    """`machine` and `drive`: texts of files; the machine's port is made the peer's."""

    def __init__(self, peer, machine, drive):
        self.held = tempfile.TemporaryDirectory()
        self.folder = pathlib.Path(self.held.name)
        self.write("short.json", json.dumps(PROFILE))
        self.write("drive.json", drive)
        self.write("machine.json", machine.replace("PORT", peer.port))

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.held.cleanup()

    def write(self, name, text):
        (self.folder / name).write_text(text)

    def change(self, name, old, new):
        text = (self.folder / name).read_text()
        assert old in text, old
        self.write(name, text.replace(old, new))

    def command(self, *words):
        return [WHIRLER, *words, "--notebook", "notebook.db", "--json"]

    def ask(self, *words, stdin=subprocess.DEVNULL):
        return subprocess.run(self.command(*words), cwd=self.folder, stdin=stdin, capture_output=True, text=True,
                              timeout=60, check=False)

    def run(self, *more, **how):
        return self.ask("run", "short.json", "--machine", "machine.json", *more, **how)

    def begin(self, *more):
        """The same, and not waited for."""
        return subprocess.Popen(self.command("run", "short.json", "--machine", "machine.json", *more),
                                cwd=self.folder, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                                stderr=subprocess.PIPE, text=True)

    def prove(self, *more):
        return self.ask("prove", "machine.json", "--lid-closed", *more)

    def check_refused(self, test, wrongs):
        """`wrongs`: drive files by the pointer to what is wrong; check, prove and run all name its place."""
        for pointer, said in wrongs.items():
            with test.subTest(wrong=pointer):
                self.write("drive.json", json.dumps(said, indent=1))
                for refused in (self.ask("check", "drive.json"), self.prove(), self.run()):
                    test.assertEqual(refused.returncode, 3, refused.stderr)
                    test.assertIn(pointer, refused.stderr)
                    test.assertRegex(refused.stderr, r"drive\.json:\d+:\d+")

    def ask_typing_yes(self, *words):
        """Types it once it is asked for: what was typed before a question is no answer to it."""
        near, far = pty.openpty()
        command = self.command("run", "short.json", "--machine", "machine.json", *words)
        with subprocess.Popen(command, cwd=self.folder, stdin=far, stdout=subprocess.PIPE,
                              stderr=subprocess.PIPE, bufsize=0) as running:
            asked = b""
            while b"type yes" not in asked.lower():
                more = running.stderr.read(1)
                if not more:
                    break
                asked += more
            os.write(near, b"yes\n")
            out, err = running.communicate(timeout=60)
        os.close(far)
        os.close(near)
        return subprocess.CompletedProcess(command, running.returncode, out.decode(), (asked + err).decode())


def sedge_shop(peer):
    """The shipped plain inverter and its machine."""
    drive = (SOURCE / "profiles/drives/sedge.json").read_text().replace('"from": "estimate"', '"from": "encoder"')
    machine = (SOURCE / "profiles/machines/inverter_modbus.json").read_text()
    machine = machine.replace("/dev/ttyUSB5", "PORT").replace("../drives/sedge.json", "drive.json")
    return Shop(peer, machine.replace('"ramp_rpm_s": 1000', '"ramp_rpm_s": 2000'), drive)


def marram_shop(peer):
    """The shipped servo and its machine, without the board that counts marks."""
    drive = (SOURCE / "profiles/drives/marram.json").read_text()
    machine = (SOURCE / "profiles/machines/servo_modbus.json").read_text()
    machine = machine.replace("/dev/ttyUSB3", "PORT").replace("../drives/marram.json", "drive.json")
    return Shop(peer, machine.replace('"unit": 1,\n    "tach_port": "/dev/ttyUSB4"', '"unit": 1'), drive)
