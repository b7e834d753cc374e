"""Whatever a page for developers or users names in this tree is there.

    page_check.py ROOT         exit status 1 if a page names a file that does not exist, or a table row
                               "| … | `file` | `word` |" whose word does not occur in its file

Pages rot quietly: a file is renamed, and the walk through the program leads into the woods.
"""

import pathlib
import re
import subprocess
import sys

NAMED = re.compile(r"`((?:src|include|tests|tools|profiles)/[\w./*-]+)`")
LOOK_FOR = re.compile(r"\|\s*`([^`|]+)`\s*\|\s*`([^`|]+)`\s*\|\s*$")
LINKED = re.compile(r"\]\(([^)#:\s]+)(?:#[^)]*)?\)")


def exists(root, name):
    if "*" in name:
        return any(root.glob(name))
    return (root / name).exists()


def is_pattern(name):
    """`tests/x_fuzz.cpp` and `include/whirler/<room>/` stand for many."""
    return "<" in name or re.search(r"(^|/|_)x[_.]|\*_|corpus_x|<|…", name) is not None


def line_faults(root, page, number, line):
    faults = []
    for name in NAMED.findall(line):
        if not is_pattern(name) and not exists(root, name.rstrip("/")):
            faults.append(f"{page}:{number}: {name} does not exist")
    row = LOOK_FOR.search(line)
    if row and (root / row.group(1)).is_file():
        if row.group(2) not in (root / row.group(1)).read_text(encoding="utf-8"):
            faults.append(f"{page}:{number}: '{row.group(2)}' does not occur in {row.group(1)}")
    for link in LINKED.findall(line):
        if not (root / page).parent.joinpath(link).exists():
            faults.append(f"{page}:{number}: the link to {link} leads nowhere")
    return faults


def page_faults(root, page):
    lines = (root / page).read_text(encoding="utf-8").splitlines()
    return [fault for number, line in enumerate(lines, 1) for fault in line_faults(root, page, number, line)]


def main():
    root = pathlib.Path(sys.argv[1])
    listed = subprocess.run(["git", "-C", str(root), "ls-files", "-z", "--", "*.md"], check=True, capture_output=True,
                            text=True).stdout.split("\0")
    pages = [name for name in listed if name and (root / name).is_file()]
    faults = [fault for page in pages for fault in page_faults(root, page)]
    print("\n".join(faults + [f"{len(pages)} pages read, {len(faults)} faults"]))
    return 1 if faults or not pages else 0


if __name__ == "__main__":
    sys.exit(main())
