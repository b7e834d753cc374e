"""The wiring page's worked example is what the program says of the same plate.

    wiring_page_test.py WHIRLER WIRING.md
"""

import json
import pathlib
import re
import subprocess
import sys
import tempfile

ROW = re.compile(r"^\| (\d+) rpm \| ([\d.]+) m/s \| ([\d.]+) J \|$", re.M)


def said(whirler, blank, rpm):
    answer = subprocess.run([whirler, "blank", blank, "--speed", f"{rpm}rpm", "--json"], check=True,
                            capture_output=True, text=True).stdout
    return json.loads(answer)


def main():
    whirler, page = sys.argv[1:]
    text = pathlib.Path(page).read_text(encoding="utf-8")
    rows = ROW.findall(text)
    faults = [] if len(rows) >= 2 else [f"{len(rows)} rows of the example found, two or more expected"]
    with tempfile.TemporaryDirectory() as folder:
        blank = pathlib.Path(folder) / "guard.json"
        blank.write_text(re.search(r"```json\n(.*?)```", text, re.S).group(1), encoding="utf-8")
        for rpm, corner, energy in rows:
            answer = said(whirler, str(blank), rpm)
            for shown, key in ((corner, "corner_speed_m_s"), (energy, "energy_J")):
                if abs(float(shown) - answer[key]) > 0.05001:
                    faults.append(f"{rpm} rpm: the page says {shown}, the program {answer[key]} ({key})")
        mass, inertia = answer["mass_g"], answer["inertia_kg_m2"]
    for shown in (f"{mass:.1f} g", f"{inertia * 1e4:.2f}e-4 kg m2"):
        if shown not in text:
            faults.append(f"'{shown}' is not on the page")
    print("\n".join(faults) if faults else f"{len(rows)} rows and the figures by hand agree")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
