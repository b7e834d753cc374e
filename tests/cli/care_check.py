#!/usr/bin/env python3
"""The notebook where it may not be written, exports that were tampered with, slips of the pen, texts
that a spreadsheet would obey, and a simulation that a busy machine delays.

usage: care_check.py PROGRAM SOURCE_FOLDER
"""
import csv
import hashlib
import io
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time

from claims import check, verdict

PROGRAM, SOURCE = sys.argv[1:3]
NOBODY = 65534


def whirler(*words, other_user=False, env=None, cwd=SOURCE):
    """Root may write anywhere: where that is the question, somebody else asks."""
    others = {"user": NOBODY, "group": NOBODY, "extra_groups": []}
    return subprocess.run([PROGRAM, *words], capture_output=True, text=True, encoding="utf-8",
                          cwd=cwd, env={**os.environ, "LC_ALL": "C", **(env or {})},
                          stdin=subprocess.DEVNULL,
                          **(others if other_user and os.geteuid() == 0 else {}))


def answer(*words):
    said = whirler(*words, "--json")
    check(f"{words} is answered", said.returncode == 0, said.stderr)
    return json.loads(said.stdout) if said.stdout else {}


def refused(claim, said, status, *words):
    check(claim, said.returncode == status and all(word in said.stderr for word in words),
          f"status {said.returncode}: {said.stderr}")


def run_words(book, *more):
    return ["run", "profiles/thin.json", "--machine", "profiles/machines/bench_simulated.json",
            "--resist", "profiles/resists/amber.json", "--simulate", "--speed-up", "100",
            "--notebook", book, *more]


def coat_words(book, *more):
    return ["coat", "profiles/boards/soil_probe.json", "--speed-up", "100", "--yes", "--notebook",
            book, *more]


def check_read_only(folder, book):
    """File 0444 in a folder that may not be written; no log beside it, then one."""
    place = os.path.join(folder, "shelf 100%?#")
    os.mkdir(place)
    shelf = os.path.join(place, "n.db")
    shutil.copy(book, shelf)
    os.chmod(shelf, 0o444)
    os.chmod(place, 0o555)
    before = sorted(os.listdir(place))
    for words in (["log"], ["show", "1"], ["jitter", "1"], ["report", "1", "--output", "-"],
                  ["report", "--trend", "--output", "-"]):
        lying = whirler(*words, "--notebook", shelf, other_user=True)
        check(f"{words[0]} reads a notebook that may not be written",
              lying.returncode == 0 and lying.stdout == whirler(*words, "--notebook", book).stdout,
              lying.stderr)
    out = os.path.join(folder, "out")
    os.mkdir(out)
    os.chmod(out, 0o777)
    said = whirler("export", "1", "--output", os.path.join(out, "c"), "--notebook", shelf,
                   other_user=True)  # for the import below
    check("export reads it too", said.returncode == 0, said.stderr)
    for words in (["note", "1", "--text", "x"], run_words(shelf)[:-2],
                  ["import", os.path.join(out, "c")]):
        refused(f"{words[0]} says that it may not be written",
                whirler(*words, "--notebook", shelf, other_user=True), 3, "may not be written")
    check("nothing is left beside it", sorted(os.listdir(place)) == before, os.listdir(place))
    os.chmod(place, 0o755)
    with open(shelf + "-wal", "wb") as log: # what a writer that died left behind
        log.write(b"\0" * 4096)
    os.chmod(place, 0o555)
    said = whirler("log", "--notebook", shelf, other_user=True)
    check("a log that cannot be read there is not passed over in silence",
          said.returncode == 0 or "log beside it" in said.stderr, said.stderr)
    os.chmod(place, 0o755)


def check_older_read_only(folder):
    place = os.path.join(folder, "older")
    os.mkdir(place)
    book = os.path.join(place, "n.db")
    with open(os.path.join(SOURCE, "tests/notebook/schema_2.sql"), encoding="utf-8") as sql:
        import sqlite3
        with sqlite3.connect(book) as database:
            database.executescript(sql.read())
    os.chmod(place, 0o555)
    refused("an earlier program's notebook says that it must be brought forward",
            whirler("log", "--notebook", book, other_user=True), 3, "brought forward", "copy it")
    os.chmod(place, 0o755)
    check("where it may be written it is brought forward",
          whirler("log", "--notebook", book).returncode == 0)


def sealed_by_hashlib(text):
    """coat.json's own checksum, of its text with that value left empty."""
    said = re.search(r'"sha256": "([0-9a-f]{64})"\n}\n$', text)
    return said and said[1] == hashlib.sha256(
        (text[:said.start(1)] + text[said.end(1):]).encode()).hexdigest()


def check_checksums(folder, book):
    """By Python's hashlib, over texts of every length modulo SHA-256's block of 64 bytes."""
    for i in range(66):
        answer("note", "2", "--text", "a" * i + "b", "--notebook", book)
        out = os.path.join(folder, f"sum-{i}")
        answer("export", "2", "--output", out, "--notebook", book)
        with open(os.path.join(out, "coat.json"), encoding="utf-8") as file:
            text = file.read()
        check(f"coat.json of {len(text)} bytes bears its own checksum", sealed_by_hashlib(text))
        shutil.rmtree(out) if i > 0 else None
    document = json.loads(text)
    for table in ("pulses", "samples"):
        with open(os.path.join(folder, "sum-0", table + ".csv"), "rb") as file:
            check(f"{table}.csv has the checksum that sha256sum prints",
                  document[table + "_sha256"] == hashlib.sha256(file.read()).hexdigest())


def check_tampering(folder, book):
    out = os.path.join(folder, "tampered")
    answer("export", "1", "--output", out, "--notebook", book)
    other = os.path.join(folder, "other.db")

    def altered(name, change):
        path = os.path.join(out, name)
        with open(path, encoding="utf-8") as file:
            whole = file.read()
        changed = change(whole)
        check(f"{name} was changed", changed != whole)
        with open(path, "w", encoding="utf-8") as file:
            file.write(changed)
        said = whirler("import", out, "--notebook", other)
        with open(path, "w", encoding="utf-8") as file:
            file.write(whole)
        return said

    def swap(text, a, b):
        lines = text.split("\n")
        lines[a], lines[b] = lines[b], lines[a]
        return "\n".join(lines)

    for name, row in (("samples.csv", 30), ("samples.csv", 1)):
        refused(f"rows {row} of {name} that changed places",
                altered(name, lambda text: swap(text, row, row + 1)), 3, name)
    refused("a tick that was altered",
            altered("pulses.csv", lambda text: text.replace("\n", "\n1", 2).replace("1", "", 1)), 3)
    document = json.load(open(os.path.join(out, "coat.json"), encoding="utf-8"))
    for key in document:
        def without(text, key=key):
            left = json.loads(text)
            del left[key]
            return json.dumps(left, indent=2, ensure_ascii=False) + "\n"
        refused(f"coat.json without {key}", altered("coat.json", without), 3, "coat.json")
    check("none of these went into the notebook", not os.path.exists(other) or
          answer("log", "--notebook", other)["coats"] == [])
    answer("import", out, "--notebook", other)


def check_slips(folder, book):
    with_book = ["--notebook", book]
    coats = len(answer("log", *with_book)["coats"])
    refused("one name for both sides", whirler(*coat_words(book, "--side", "a", "--side", "a")), 2,
            "both sides are called 'a'")
    refused("three sides", whirler(*coat_words(book, *["--side", "a", "--side", "b", "--side", "c"])),
            2, "one or two sides")
    for flag in ("--weighed-before", "--weighed-after"):
        refused(f"{flag} without a unit", whirler(*coat_words(book, flag, "30")), 2, "24.310g")
    for fault in ("banana", "2:banana@3s", "lid"):
        refused(f"--fault {fault} of a board", whirler(*coat_words(book, "--fault", fault)), 2, "fault")
        refused(f"--fault {fault} of a run", whirler(*run_words(book, "--fault", fault)), 2, fault)
    refused("a weighed film hundreds of times too thick, before anything moves",
            whirler(*coat_words(book, "--weighed-before", "24.3g", "--weighed-after", "34.3g")), 3,
            "far from what this spin leaves")
    refused("a board that is lighter with its film on",
            whirler(*coat_words(book, "--weighed-before", "24.3g", "--weighed-after", "24.2g")), 3)
    for film in ("1e9um", "0.000001um", "2m"):
        refused(f"{film} is no film", whirler("note", "1", "--measured", film, *with_book), 3,
                "from 0.01 um to 1000 um")
        refused(f"{film} is no target", whirler("note", "1", "--wanted", film, *with_book), 3)
    refused("a film a hundred times the estimate is questioned",
            whirler("note", "1", "--measured", "200um", *with_book), 3, "--sure")
    check("nothing of it was kept", answer("show", "1", *with_book)["measured_um"] is None)
    check("unless the person is sure",
          whirler("note", "1", "--measured", "200um", "--sure", *with_book).returncode == 0)
    check("nothing was run for any of them", len(answer("log", *with_book)["coats"]) == coats)
    refused("CSV and JSON at once", whirler("log", "--csv", "--json", *with_book), 2, "--csv")
    for word in ("abc", "1.5", "0", "-1"):
        refused(f"show {word}", whirler("show", word, *with_book), 2, "whole number from 1 on")
    refused("a number that no log reaches", whirler("show", "9" * 30, *with_book), 2, "more than")
    refused("a coat that is not there", whirler("show", "9999999999999", *with_book), 3,
            f"there is no coat 9999999999999; the newest is {coats}")
    deep = os.path.join(folder, "new", "deep", "x.db")
    for words in (run_words(deep), coat_words(deep), ["import", folder, "--notebook", deep]):
        said = whirler(*words)
        check(f"{words[0]} makes no folders for a mistyped notebook",
              said.returncode == 3 and not os.path.exists(os.path.join(folder, "new")), said.stderr)
    home = {"XDG_DATA_HOME": os.path.join(folder, "data")}
    words = [word for word in run_words(book) if word not in with_book]
    check("the default place is made", whirler(*words, env=home).returncode == 0 and
          os.path.exists(os.path.join(folder, "data", "whirler", "notebook.db")))


def check_spreadsheet(folder):
    book = os.path.join(folder, "sheet.db")
    names = ["=1+1", "+cmd", "-2+3", "@SUM(A1)", "plain, \"quoted\"", "bell\x07\x1b[31m\nrow", "-12"]
    for name in names:
        said = whirler(*run_words(book, "--board", name))
        check(f"a run of {name!r}", said.returncode == 0, said.stderr)
    text = whirler("log", "--csv", "--notebook", book).stdout
    check("no control character but the line's end", not re.search(r"[\x00-\x09\x0b-\x1f\x7f]", text))
    cells = [row["board"] for row in csv.DictReader(io.StringIO(text))][::-1]
    check("no cell is a formula, and none lost a letter",
          cells == ["'=1+1", "'+cmd", "'-2+3", "'@SUM(A1)", names[4], "bell  [31m row", "-12"], cells)
    kept = [coat["board"] for coat in answer("log", "--notebook", book)["coats"]][::-1]
    check("JSON has the names as they are", kept == names, kept)


def check_busy(folder):
    """A record's length is the spinner's, however late the machine is."""
    book = os.path.join(folder, "busy.db")
    hogs = [subprocess.Popen([sys.executable, "-c", "while True: pass"])
            for _ in range(4 * os.cpu_count())]
    try:
        time.sleep(0.2)  # until they are at it: what is claimed holds without them too
        said = whirler(*run_words(book))
    finally:
        for hog in hogs:
            hog.kill()
    check("a run on a busy machine", said.returncode == 0, said.stderr)
    coat = answer("show", "1", "--notebook", book)
    with open(os.path.join(SOURCE, "profiles/thin.json"), encoding="utf-8") as file:
        profile = json.loads(re.sub(r"^\s*//.*$", "", file.read(), flags=re.M))
    speed, planned = 0.0, 0.0
    for step in profile["steps"]:
        planned += abs(step["speed_rpm"] - speed) / step["ramp_rpm_s"] + step["dwell_s"]
        speed = step["speed_rpm"]
    planned += speed / profile["stop"]["ramp_rpm_s"]
    # The start, and the seconds without pulses that show standstill, are beside the profile.
    # So is what passes while a word is under way, at a hundred times life's pace.
    check("the record is as long as the profile", planned < coat["length_s"] < 1.25 * planned,
          (planned, coat["length_s"]))
    last = coat["events"][-1]["t_s"]
    check("so are its events", planned - 1 < last < 1.25 * planned, last)


def main():
    with tempfile.TemporaryDirectory() as folder:
        os.chmod(folder, 0o755)
        book = os.path.join(folder, "n.db")
        for _ in range(2):
            said = whirler(*run_words(book, "--board", "sedge 4"))
            check("a run", said.returncode == 0, said.stderr)
        check_read_only(folder, book)
        check_older_read_only(folder)
        check_checksums(folder, book)
        check_tampering(folder, book)
        check_slips(folder, book)
        check_spreadsheet(folder)
        check_busy(folder)
    return verdict()


sys.exit(main())
