"""Runs every `sh` block of a Markdown page, in order, as a reader would who copies one after the other.

    run_readme.py PAGE PROGRAM SOURCE_ROOT

The blocks share one shell session in a folder of their own that has the tree's profiles and tools, with
PROGRAM's folder first on the PATH and an empty home. A command must exit with 0, or with the status that
a comment at its end names: `whirler check plate.json   # exits 3`. Commands of tools/ build and install;
they are not run here (a test that ran tools/test would run itself), only looked for and parsed.
"""

import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

BLOCK = re.compile(r"^```sh\n(.*?)^```", re.DOTALL | re.MULTILINE)
EXPECTED = re.compile(r"#\s*exits (\d+)\s*$")
LONGEST_S = 120


def is_whole(text):
    """Whether bash would run this now rather than wait for more: no open quote, loop or here-document."""
    parsed = subprocess.run(["bash", "-n"], input=text + "\n", text=True, capture_output=True)
    return parsed.returncode == 0 and not parsed.stderr and not text.endswith("\\")


def commands_of(page):
    """(line number, command) of every command; one may have several lines."""
    found = []
    for block in BLOCK.finditer(page):
        number = page.count("\n", 0, block.start(1)) + 1
        pending = []
        for offset, line in enumerate(block.group(1).splitlines()):
            if not pending and (not line.strip() or line.lstrip().startswith("#")):
                continue
            pending.append(line)
            if is_whole("\n".join(pending)):
                found.append((number + offset - len(pending) + 1, "\n".join(pending)))
                pending = []
        if pending:  # bash will say what is wrong with it
            found.append((number, "\n".join(pending)))
    return found


def builds(command):
    return re.match(r"\s*(?:sudo )?(?:tools/\w+|apt-get|git clone|cd whirler|cmake|ninja)\b", command) is not None


def fault_of_tool(command, root):
    match = re.search(r"tools/\w+", command)
    if match is None:
        return None
    tool = root / match.group(0)
    if not os.access(tool, os.X_OK):
        return f"{match.group(0)} is no program of this tree"
    parsed = subprocess.run(["bash", "-n", str(tool)], capture_output=True, text=True)
    return parsed.stderr or None


def run_all(commands, folder, environment):
    """Runs the commands in one shell; gives [(status, output)] as far as it got."""
    mark = "=-=-="
    script = "".join(f"{command}\nprintf '\\n{mark}%s\\n' \"$?\"\n" for _, command in commands)
    try:
        run = subprocess.run(["bash", "-s"], input=script, text=True, cwd=folder, env=environment, timeout=LONGEST_S,
                             stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
        output = run.stdout
    except subprocess.TimeoutExpired as late:
        output = (late.stdout or b"").decode(errors="replace")
    parts = re.split(rf"\n{mark}(\d+)\n", output)
    return [(int(parts[i + 1]), parts[i]) for i in range(0, len(parts) - 1, 2)]


def judge(commands, results):
    faults = []
    for (line, command), (status, output) in zip(commands, results):
        expected = int(match.group(1)) if (match := EXPECTED.search(command)) else 0
        if status != expected:
            faults.append(f"line {line}: exit status {status}, not {expected}\n  $ {command}\n{output}")
    if len(results) < len(commands):
        faults.append(f"line {commands[len(results)][0]}: not finished within {LONGEST_S} s\n"
                      f"  $ {commands[len(results)][1]}")
    return faults


def page_faults(page, program, root):
    commands = commands_of(page)
    tools = [fault for _, command in commands if builds(command) if (fault := fault_of_tool(command, root))]
    to_run = [(line, command) for line, command in commands if not builds(command)]
    with tempfile.TemporaryDirectory(prefix="readme") as folder:
        work = pathlib.Path(folder, "whirler")
        home = pathlib.Path(folder, "home")
        home.mkdir()
        work.mkdir()
        if (root / "profiles").is_dir():
            shutil.copytree(root / "profiles", work / "profiles")
        environment = {"PATH": f"{program.parent}:/usr/bin:/bin", "HOME": str(home), "TERM": "dumb", "LC_ALL": "C.UTF-8"}
        return tools + judge(to_run, run_all(to_run, work, environment)), len(to_run)


def main():
    page, program, root = (pathlib.Path(argument).resolve() for argument in sys.argv[1:4])
    faults, count = page_faults(page.read_text(encoding="utf-8"), program, root)
    print("\n".join(faults + [f"{page.name}: {count} commands run, {len(faults)} faults"]))
    return 1 if faults or count == 0 else 0


if __name__ == "__main__":
    sys.exit(main())
