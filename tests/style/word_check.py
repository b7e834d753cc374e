"""Finds what would tie the project to the machine or the papers it was written with.

    word_check.py ROOT         exit status 1 if a tracked file names a path of one machine, a working
                               paper that readers do not have, or whoever typed the text

The project speaks of itself alone: a path or a paper that only its writer has helps no reader.
"""

import pathlib
import re
import subprocess
import sys

# One exception: tests that need measured data look beside the source tree, and say so when it is missing.
DATA_BESIDE = re.compile(r"\.\./shared/data\b")
REFUSED = (
    (re.compile(r"(?<![\w.$}])/(?:work|home/[a-z]|root/\w|Users/\w)[\w/]*"), "a path of one machine"),
    (re.compile(r"\b(?:film|design|tach|style|emulated-chip|HOUSE)\.md\b|\bshared/"), "a paper readers do not have"),
    (re.compile(r"\bissues? #?\d+\b"), "the number of an issue"),
    (re.compile(r"\b(?:Claude|Anthropic|ChatGPT|OpenAI|Copilot|LLM|AI)\b|\bsub-?agents?\b|\blanguage model\b"),
     "whoever typed the text"),
)
BINARY_ENDINGS = {".png", ".jpg", ".bin", ".elf", ".gz", ".sqlite"}


def text_faults(name, text):
    faults = []
    for number, line in enumerate(text.splitlines(), 1):
        rest = DATA_BESIDE.sub("", line)
        for pattern, what in REFUSED:
            match = pattern.search(rest)
            if match:
                faults.append(f"{name}:{number}: '{match.group(0)}' is {what}")
    return faults


def tracked_names(root):
    listed = subprocess.run(["git", "-C", str(root), "ls-files", "-z"], check=True, capture_output=True, text=True)
    return [name for name in listed.stdout.split("\0") if name]


def is_read(name):
    path = pathlib.PurePath(name)
    in_corpus = any(part.startswith("corpus_") for part in path.parts)
    # This check and its test have to name what they refuse.
    return path.suffix not in BINARY_ENDINGS and not in_corpus and not path.name.startswith("word_check")


def main():
    root = pathlib.Path(sys.argv[1])
    faults, read = [], 0
    for name in filter(is_read, tracked_names(root)):
        if (root / name).is_file():
            faults += text_faults(name, (root / name).read_text(encoding="utf-8", errors="replace"))
            read += 1
    print("\n".join(faults + [f"{read} files read, {len(faults)} faults"]))
    return 1 if faults or read == 0 else 0


if __name__ == "__main__":
    sys.exit(main())
