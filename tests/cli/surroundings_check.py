#!/usr/bin/env python3
"""The same numbers in a country of decimal commas, names in any script, and no colour where none is
wanted.

usage: surroundings_check.py PROGRAM SOURCE_FOLDER
"""
import os
import pty
import re
import shutil
import subprocess
import sys
import tempfile

from claims import check, verdict

PROGRAM, SOURCE = sys.argv[1:3]
NAMES = ["Grün & <Gelb>", "плата 7", "基板", "'quote\" and space"]


def whirler(words, env=None):
    return subprocess.run([PROGRAM, *words], capture_output=True, text=True, encoding="utf-8",
                          cwd=SOURCE, env={**os.environ, **(env or {"LC_ALL": "C"})})


def run_words(book, board="b"):
    return ["run", "profiles/thin.json", "--machine", "profiles/machines/bench_simulated.json",
            "--simulate", "--speed-up", "100", "--board", board, "--notebook", book]


def comma_locale(folder):
    """A German locale in a folder of its own; none where it cannot be made."""
    if shutil.which("localedef") is None:
        return None
    made = subprocess.run(["localedef", "-i", "de_DE", "-f", "UTF-8",
                           os.path.join(folder, "de_DE.UTF-8")], capture_output=True)
    env = {"LOCPATH": folder, "LC_ALL": "de_DE.UTF-8", "LANG": "de_DE.UTF-8"}
    shown = subprocess.run(["bash", "-c", "printf %.1f 1,5"], capture_output=True, text=True,
                           env={**os.environ, **env}).stdout
    return env if made.returncode in (0, 1) and shown == "1,5" else None


def check_commas(folder, book):
    env = comma_locale(folder)
    if env is None:
        print("not looked at: no locale with a decimal comma can be made here")
        return
    page = os.path.join(folder, "page.html")
    for words in (["speed", "--target", "1.2um", "--known", "1.62um@3000rpm"],
                  ["speed", "--target", "1.25um", "--known", "1.62um@3000.5rpm", "--json"],
                  ["film", "profiles/thin.json", "--resist", "profiles/resists/amber.json"],
                  ["blank", "profiles/blanks/rain_gauge.json", "--json"],
                  ["log", "--notebook", book, "--csv"], ["show", "1", "--notebook", book],
                  ["jitter", "1", "--notebook", book, "--json"],
                  ["report", "1", "--output", "-", "--notebook", book],
                  ["report", "--trend", "--output", "-", "--notebook", book],
                  ["export", "1", "--output", page + "{}", "--notebook", book]):
        plain = whirler([word.replace("{}", "C") for word in words])
        comma = whirler([word.replace("{}", "D") for word in words], env)
        check(f"{words[:2]} is answered", plain.returncode == 0, plain.stderr)
        same = (plain.stdout.replace("page.htmlC", ""), plain.returncode)
        check(f"{words[:2]} says the same with a decimal comma about",
              same == (comma.stdout.replace("page.htmlD", ""), comma.returncode), comma.stdout[:400])
    for name in sorted(os.listdir(page + "C")):
        with open(os.path.join(page + "C", name), "rb") as one, \
                open(os.path.join(page + "D", name), "rb") as other:
            check(f"export: {name} is the same", one.read() == other.read())


def check_names(folder):
    for name in NAMES:
        place = os.path.join(folder, name)
        os.makedirs(place)
        book = os.path.join(place, name + ".db")
        profile = os.path.join(place, name + ".json")
        with open(os.path.join(SOURCE, "profiles/thin.json"), encoding="utf-8") as file:
            text = re.sub(r'"name"\s*:\s*"Thin coat"', '"name": "' + name.replace('"', '\\"') + '"',
                          file.read())
        with open(profile, "w", encoding="utf-8") as file:
            file.write(text)
        words = run_words(book, name)
        words[1] = profile
        said = whirler(words)
        check(f"a run of {name}", said.returncode == 0, said.stderr)
        log = whirler(["log", "--notebook", book])
        check(f"the log has {name} twice", log.stdout.count(name) == 2, log.stdout)
        for words in (["report", "1", "--output", os.path.join(place, name + ".html")],
                      ["export", "1", "--output", os.path.join(place, "out " + name)]):
            said = whirler([*words, "--notebook", book])
            check(f"{words[0]} of {name}", said.returncode == 0, said.stderr)
        said = whirler(["import", os.path.join(place, "out " + name), "--notebook", book + "2"])
        check(f"import of {name}", said.returncode == 0, said.stderr)
        check(f"the other log has {name} twice",
              whirler(["log", "--notebook", book + "2"]).stdout.count(name) == 2)


def on_terminal(words, env):
    """What a terminal gets to see."""
    surroundings = {**os.environ, "TERM": "xterm-256color"}
    surroundings.pop("NO_COLOR", None)
    surroundings.update(env)
    ours, theirs = pty.openpty()
    process = subprocess.Popen([PROGRAM, *words], stdin=theirs, stdout=theirs, stderr=theirs,
                               cwd=SOURCE, env=surroundings)
    os.close(theirs)
    seen = b""
    while True:
        try:
            piece = os.read(ours, 4096)
        except OSError:  # the other end is closed
            break
        if not piece:
            break
        seen += piece
    os.close(ours)
    check("the run on a terminal is done", process.wait() == 0, seen[-400:])
    return seen


def check_colour(book):
    colour = re.compile(rb"\x1b\[[0-9;]*m")
    for env, wanted in (({}, True), ({"NO_COLOR": ""}, True), ({"NO_COLOR": "1"}, False)):
        seen = on_terminal(run_words(book), env)
        check(f"a screen is drawn with {env}", b"\x1b[" in seen)
        check(f"colour with {env}: {wanted}", (colour.search(seen) is not None) == wanted)
        tints = {found for found in re.findall(rb"38;5;([0-9]+)|38;2;([0-9;]+)", seen)}
        check("no colour has blue in it", all(not rgb or rgb.endswith(b";0") for _, rgb in tints),
              tints)
    piped = whirler(run_words(book)).stdout
    check("no escape goes into a pipe", "\x1b" not in piped)


def main():
    with tempfile.TemporaryDirectory() as folder:
        book = os.path.join(folder, "book.db")
        said = whirler(run_words(book))
        check("a run", said.returncode == 0, said.stderr)
        check_commas(folder, book)
        check_names(folder)
        check_colour(book)
    return verdict()


if __name__ == "__main__":
    sys.exit(main())
