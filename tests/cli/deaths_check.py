#!/usr/bin/env python3
"""The whole program when things die under it, on the simulated spinner faster than life.

  deaths_check.py PROGRAM kills [SEED]   killed 200 times at random moments, two to a notebook
  deaths_check.py PROGRAM full           a disk that fills up while a run is recorded
  deaths_check.py PROGRAM held           a notebook that another program does not let go of

Exit status 77: no small disk can be made here.
"""
import concurrent.futures
import json
import os
import random
import re
import sqlite3
import subprocess
import sys
import tempfile
import time

from claims import check, verdict

PROGRAM = sys.argv[1]
KILLS = 200
WORKERS = 8
SPEED_UP = 20
# Those that are killed are hurried less: what a killed coat may lack before its last word, in the
# spinner's time, is the half second that is kept back, and 400 ms of the wall's time for a word to
# overtake the disk of a busy machine.
KILLED_SPEED_UP = 5
KILLED_WITHIN_S = 1.6
MAY_LACK_S = 0.5 + 0.4 * KILLED_SPEED_UP

PROFILE = """{"kind":"profile","format":1,"name":"Kürze","steps":[
  {"name":"spread","speed_rpm":500,"ramp_rpm_s":1000,"dwell_s":2},
  {"name":"thin","speed_rpm":2000,"ramp_rpm_s":2000,"dwell_s":%s}],
  "stop":{"ramp_rpm_s":2000}}"""
MACHINE = """{"kind":"machine","format":1,"name":"bench","drive":{"type":"simulated"},
  "direction":"cw","tach":{"marks_per_turn":6,"mark_radius_mm":15,"index":true,
  "sensor_on":"ground"},"lid":"switch","air":"open","limits":{"speed_rpm":6000,
  "speed_min_rpm":200,"ramp_rpm_s":6000},"rotor":{"mass_g":300,"inertia_kg_m2":1e-4},
  "motor":{"torque_N_m":0.2,"current":"ac"},
  "mount":{"natural_hz":15,"damping":0.08,"moving_mass_g":600}}"""


def files(folder, dwell_s):
    for name, text in (("profile.json", PROFILE % dwell_s), ("machine.json", MACHINE)):
        with open(os.path.join(folder, name), "w", encoding="utf-8") as file:
            file.write(text)
    return [os.path.join(folder, "profile.json"), "--machine", os.path.join(folder, "machine.json")]


def whirler(*words):
    return subprocess.run([PROGRAM, *words], capture_output=True, text=True)


def answer(*words):
    said = whirler(*words, "--json")
    check(f"{words} is answered", said.returncode == 0, said.stderr)
    return json.loads(said.stdout) if said.returncode == 0 else {}


def run_words(what, book, board, speed_up=SPEED_UP):
    return ["run", *what, "--simulate", "--speed-up", str(speed_up), "--notebook", book, "--board",
            board]


def whole(book):
    with sqlite3.connect(book) as database:
        said = database.execute("PRAGMA integrity_check").fetchall()
    check("the notebook is whole", said == [("ok",)], said)


def last_second(text):
    """The time of the last line of progress, in the spinner's seconds; none before the first."""
    times = re.findall(r"^([0-9.]+) s  step", text, re.M)
    return float(times[-1]) if times else None


def kill_one(what, book, board, wait_s, words_file):
    """Starts a run and kills it; what it had said by then."""
    with open(words_file, "wb") as out:
        process = subprocess.Popen([PROGRAM, *run_words(what, book, board, KILLED_SPEED_UP)],
                                   stdout=out, stderr=subprocess.STDOUT)
        try:
            process.wait(wait_s)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
    with open(words_file, encoding="utf-8") as file:
        return file.read(), process.returncode


def kill_many(folder, what, worker, seed):
    """Each of its own random moments, into the notebook that it shares with one other."""
    chance = random.Random(f"{seed}/{worker}")
    book = os.path.join(folder, f"bük{worker // 2}.db")
    runs = []
    while sum(status == -9 for _, _, _, status in runs) < KILLS // WORKERS:
        board = f"board-{worker}-{len(runs)}-"
        text, status = kill_one(what, book, board, chance.uniform(0.0, KILLED_WITHIN_S),
                                os.path.join(folder, f"words{worker}"))
        runs.append((book, board, text, status))
    return runs


def check_coat(book, board, text, status, coats):
    """What the notebook has of a run that was killed (or had ended by then)."""
    here = [coat for coat in coats if coat["board"] == board]
    begun = "\nramping" in text
    check(f"{board} is there once", len(here) == 1 or (not here and not begun), text)
    if not here:
        return 0
    if status != -9:
        check(f"{board} ended by itself", here[0]["state"] == "finished" and status == 0, text)
        return 0
    if here[0]["state"] == "finished":  # killed between its last commit and its last word
        return 0
    check(f"{board} is broken off", here[0]["state"] == "broken_off", here[0])
    coat = answer("show", str(here[0]["coat"]), "--notebook", book)
    said = last_second(text)
    check(f"{board} is there up to its last second",
          said is None or coat["length_s"] >= said - MAY_LACK_S, f"{coat['length_s']} {text}")
    return 1 if begun else 0


def kills(folder):
    seed = int(sys.argv[3]) if len(sys.argv) > 3 else int(time.time())
    print(f"seed {seed}")
    what = files(folder, 3)
    with concurrent.futures.ThreadPoolExecutor(WORKERS) as pool:
        each = list(pool.map(lambda worker: kill_many(folder, what, worker, seed), range(WORKERS)))
    killed = [one for many in each for one in many]
    turning = 0
    for book in sorted({one[0] for one in killed}):
        whole(book)
        coats = answer("log", "--notebook", book)["coats"]
        turning += sum(check_coat(*one, coats) for one in killed if one[0] == book)
        whole(book)
    check("many of them were killed while the plate turned", turning > KILLS // 4, turning)
    print(f"{len(killed)} runs, {sum(one[3] == -9 for one in killed)} killed, {turning} of them "
          "while the plate turned")


def export(folder, book, name):
    said = whirler("export", "1", "--output", os.path.join(folder, name), "--notebook", book)
    check("coat 1 is exported", said.returncode == 0, said.stderr)
    made = []
    for file in sorted(os.listdir(os.path.join(folder, name))):
        with open(os.path.join(folder, name, file), "rb") as content:
            made.append((file, content.read()))
    return made


def fill(disk, leave):
    """Fills the disk but for so many bytes."""
    left = os.statvfs(disk)
    with open(os.path.join(disk, "filler"), "wb") as filler:
        filler.write(b"x" * max(0, left.f_bavail * left.f_frsize - leave))


def full(folder):
    disk = os.path.join(folder, "disk")
    os.mkdir(disk)
    made = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=2m", "none", disk],
                          capture_output=True, text=True)
    if made.returncode != 0:
        print("skipped: no disk can be mounted here:", made.stderr.strip())
        return 77
    try:
        check_full(folder, disk)
    finally:
        subprocess.run(["umount", "-l", disk], check=False)
    return 0


def check_full(folder, disk):
    what = files(folder, 120)
    book = os.path.join(disk, "book.db")
    first = whirler(*run_words(files(folder, 1), book, "earlier"))
    check("a run on an empty disk is done", first.returncode == 0, first.stderr)
    what = files(folder, 120)
    before = export(folder, book, "before")
    fill(disk, 96 * 1024)
    second = whirler(*run_words(what, book, "later"), "--json")
    check("the run ends early", second.returncode == 5, f"{second.returncode} {second.stderr}")
    said = json.loads(second.stdout)
    check("its outcome is the record", said.get("outcome") == "record", second.stdout)
    check("it ended at rest", said.get("standstill_seen") is True, second.stdout)
    check("it was turning", said.get("top_speed_rpm", 0) > 400, second.stdout)
    check("it says that the disk is full", "full" in second.stderr + said.get("cause", ""),
          second.stderr)
    os.remove(os.path.join(disk, "filler"))
    whole(book)
    check("the earlier coat is as it was", export(folder, book, "after") == before)
    coats = answer("log", "--notebook", book)["coats"]
    check("the later one is there too", [coat["board"] for coat in coats] == ["later", "earlier"],
          coats)
    coat = answer("show", "2", "--notebook", book)
    check("up to when the disk filled", coat["length_s"] > 0.5 and coat["pulses"] > 0, coat)
    fill(disk, 0)
    third = whirler(*run_words(what, book, "none"))
    check("on a full disk no run begins", third.returncode in (3, 5) and "full" in third.stderr,
          f"{third.returncode} {third.stdout} {third.stderr}")


def held(folder):
    what = files(folder, 1)
    book = os.path.join(folder, "book.db")
    check("a run is done", whirler(*run_words(what, book, "first")).returncode == 0)
    other = sqlite3.connect(book, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    said = whirler(*run_words(what, book, "second"))
    check("a held notebook is refused", said.returncode == 3, f"{said.returncode} {said.stderr}")
    check("the word is clear", "another program" in said.stderr, said.stderr)
    check("nothing turned", "ramping" not in said.stdout, said.stdout)
    check("reading goes on", len(answer("log", "--notebook", book)["coats"]) == 1)
    other.execute("ROLLBACK")
    other.close()
    check("let go, it is written again", whirler(*run_words(what, book, "third")).returncode == 0)
    whole(book)


def main():
    if sys.argv[2] == "full" and "WHIRLER_INSIDE" not in os.environ:
        # A mount of its own name space where that is allowed; else as it comes.
        if subprocess.run(["unshare", "-rm", "true"], capture_output=True).returncode == 0:
            os.environ["WHIRLER_INSIDE"] = "1"
            os.execvp("unshare", ["unshare", "-rm", sys.executable, *sys.argv])
    with tempfile.TemporaryDirectory() as folder:
        if {"kills": kills, "full": full, "held": held}[sys.argv[2]](folder) == 77:
            return 77
    return verdict(most=20)


if __name__ == "__main__":
    sys.exit(main())
