#!/usr/bin/env python3
"""The pages in a real browser: no script error, no request to the network, text and drawings there,
a picture that is not empty, and sheets of A4. A page with all these faults has to be found out.

usage: browser_check.py PROGRAM SOURCE_FOLDER [PICTURES_FOLDER]
Exit status 77: there is no chromium here.
"""
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile

from claims import check, verdict

PROGRAM, SOURCE = sys.argv[1:3]
BROWSER = shutil.which("chromium")
FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
         "--disable-background-networking", "--disable-component-update", "--disable-sync",
         "--disable-dev-shm-usage", "--host-resolver-rules=MAP * ~NOTFOUND",
         "--enable-logging=stderr", "--hide-scrollbars"]


def whirler(words):
    said = subprocess.run([PROGRAM, *words], capture_output=True, text=True, cwd=SOURCE)
    if said.returncode != 0:
        sys.exit(f"whirler {' '.join(words)}: {said.returncode}\n{said.stdout}{said.stderr}")


def browse(folder, page, wants):
    """stdout, console lines, and the requests that the page made (not the browser for itself)."""
    profile = tempfile.mkdtemp(dir=folder)
    log = os.path.join(profile, "net.json")
    said = subprocess.run([BROWSER, *FLAGS, f"--user-data-dir={profile}", f"--log-net-log={log}",
                           *wants, "file://" + page],
                          capture_output=True, text=True, timeout=90,
                          env={**os.environ, "HOME": profile})
    if said.returncode != 0:
        sys.exit(f"the browser ended with {said.returncode}\n{said.stderr}")
    requests = set()
    with open(log, encoding="utf-8") as file:
        for event in json.load(file)["events"]:
            about = event.get("params") or {}
            # What the browser asks for itself has no initiator.
            if "url" in about and about.get("initiator", "not an origin") != "not an origin":
                requests.add(about["url"])
    console = [line for line in said.stderr.splitlines() if "CONSOLE" in line]
    return said.stdout, console, sorted(requests)


def make_pages(folder):
    book = ["--notebook", os.path.join(folder, "book.db")]
    for seed, measured in (("1", "2.1um"), ("2", "1.9um")):
        whirler(["run", "profiles/thin.json", "--machine", "profiles/machines/bench_simulated.json",
                 "--blank", "profiles/blanks/rain_gauge.json", "--resist",
                 "profiles/resists/amber.json", "--simulate", "--speed-up", "100", "--seed", seed,
                 "--board", "Regenmesser Nº " + seed, *book])
        whirler(["note", seed, "--wanted", "2um", "--measured", measured, *book])
    # A side poured twice, and both sides weighed: coats 3 to 5.
    whirler(["coat", "profiles/boards/soil_probe.json", "--speed-up", "40", "--yes", "--recoat",
             "pad side", "--weighed-before", "20g", "--weighed-after", "20.03g", *book])
    poured = os.path.join(folder, "poured.html")
    whirler(["report", "5", "--output", poured, *book])
    coat = os.path.join(folder, "coat.html")
    trend = os.path.join(folder, "trend.html")
    whirler(["report", "1", "--output", coat, *book])
    whirler(["report", "--trend", "--output", trend, *book])
    return {coat: (["Coat 1", "Regenmesser Nº 1", "completed", "Caution:"], 3),
            poured: (["Coat 5", "pad side", "Pours on this side", "by weight"], 4),
            trend: (["Trend over 5 coats", "poured over", "Vibration", "Factor on the estimates"], 3)}


def check_page(folder, page, words, drawings):
    name = os.path.basename(page)
    dom, console, requests = browse(folder, page, ["--dump-dom"])
    check(f"{name}: the console is empty", not console, console)
    check(f"{name}: nothing is asked of the network", not requests, requests)
    for word in words:
        check(f"{name}: says '{word}'", word in dom, dom[:400])
    check(f"{name}: has its drawings", dom.count("<svg") >= drawings, dom.count("<svg"))
    picture = page.replace(".html", ".png")
    browse(folder, page, [f"--screenshot={picture}", "--window-size=900,3000"])
    # One colour throughout packs into a few kilobytes.
    check(f"{name}: the picture shows something", os.path.getsize(picture) > 30_000)
    sheets = page.replace(".html", ".pdf")
    browse(folder, page, [f"--print-to-pdf={sheets}", "--no-pdf-header-footer"])
    with open(sheets, "rb") as file:
        boxes = re.findall(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)", file.read())
    check(f"{name}: prints", boxes)
    for width, height in boxes:  # A4 in points
        check(f"{name}: prints on A4",
              abs(float(width) - 595.3) < 1.5 and abs(float(height) - 841.9) < 1.5, (width, height))


def check_finds_faults(folder):
    """Otherwise the silence above would prove nothing."""
    page = os.path.join(folder, "bad.html")
    with open(page, "w", encoding="utf-8") as file:
        file.write('<!DOCTYPE html><img src="http://127.0.0.1:9/x.png"><script>nosuch()</script>')
    _, console, requests = browse(folder, page, ["--dump-dom"])
    check("a script's error is seen", any("nosuch" in line for line in console), console)
    check("a request is seen", "http://127.0.0.1:9/x.png" in requests, requests)


def main():
    if not BROWSER:
        print("skipped: no chromium here")
        return 77
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        for page, (words, drawings) in make_pages(folder).items():
            check_page(folder, page, words, drawings)
            if len(sys.argv) > 3:  # to be looked at by a person
                for made in (page, page.replace(".html", ".png"), page.replace(".html", ".pdf")):
                    shutil.copy(made, sys.argv[3])
        check_finds_faults(folder)
    return verdict()


if __name__ == "__main__":
    sys.exit(main())
