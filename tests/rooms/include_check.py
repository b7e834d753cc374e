"""Reads every #include of a source tree against the room table of its DEVELOPERS.md.

    include_check.py ROOT      lists what is wrong, one a line; exit status 1 if anything is

Why a script and not the compiler: all rooms share one include path, so the compiler would accept a
physics file that reads the clock or a room that includes its neighbour.
"""

import pathlib
import re
import subprocess
import sys

from room_table import read_room_table

SOURCE_ENDINGS = {".hpp", ".cpp", ".h", ".c"}
INCLUDE = re.compile(r'^\s*#\s*include\s*([<"])([^>"]+)[>"]')

# A header outside the standard library, by its beginning, and the name the table has for it.
LIBRARIES = (
    ("boost/system", "Boost.Asio"),  # its error codes
    ("nlohmann/", "nlohmann-json"),
    ("sqlite3.h", "SQLite"),
    ("openssl/", "OpenSSL"),
    ("CLI/", "CLI11"),
)
# Levels 0 to 2 are pure: no clock, file, environment or port, and nothing printed.
PURE_LEVELS = 2
IMPURE_HEADERS = {
    "iostream", "fstream", "filesystem", "chrono", "ctime", "time.h", "cstdio", "stdio.h", "print",
    "syncstream", "thread", "mutex", "future", "condition_variable", "csignal", "unistd.h", "fcntl.h",
    "stdlib.h", "termios.h", "poll.h", "spawn.h",
}
IMPURE_WORDS = re.compile(
    r"\b(getenv|setenv|std::c(?:out|err|log|in)|printf|fprintf|puts|fopen|popen|std::system|random_device|"
    r"clock_gettime|gettimeofday|(?:steady|system|high_resolution)_clock)\b")
TOP_LEVEL = {"CMakeLists.txt", "README.md", "DEVELOPERS.md", "LICENSE",
             "src", "include", "tests", "profiles", "tools"}


def tracked_files(root):
    """Paths relative to root: what git tracks, or every file where root is no repository."""
    if (root / ".git").exists():
        names = subprocess.run(["git", "-C", str(root), "ls-files", "-z"], check=True,
                               capture_output=True, text=True).stdout.split("\0")
        return [pathlib.PurePath(name) for name in names if name and (root / name).exists()]
    return [path.relative_to(root) for path in sorted(root.rglob("*")) if path.is_file()]


def without_comments(text):
    """Comments and string contents blanked out, line numbers kept."""
    pattern = re.compile(r'//[^\n]*|/\*.*?\*/|"(?:\\.|[^"\\\n])*"', re.DOTALL)

    def blank(match):
        found = match.group(0)
        return '""' if found.startswith('"') else re.sub(r"[^\n]", " ", found)

    return pattern.sub(blank, text)


def room_of(path):
    """The room a source belongs to; None for tools and whatever is in no room."""
    parts = path.parts
    if parts[0] == "src" and len(parts) > 2:
        return parts[1]
    if parts[:2] == ("include", "whirler") and len(parts) > 3:
        return parts[2]
    return None


def library_of(header):
    for beginning, name in LIBRARIES:
        if header.startswith(beginning):
            return name
    boost = re.match(r"boost/(\w+)", header)
    return f"Boost.{boost.group(1)}" if boost else None


def room_include_fault(room, header, rooms, root):
    """What is wrong with including "whirler/<other>/..." from a room (None: from tools)."""
    other_name = header.split("/")[1]
    other = rooms.get(other_name)
    if other is None:
        return f"'{other_name}' is no room of the table"
    if not (root / "include" / header).is_file():
        return f"include/{header} does not exist"
    if room is None or other.name == room.name:
        return None
    if not room.lowest <= other.level <= room.highest:
        return (f"{room.name} (level {room.level}) may not include {other.name} (level {other.level}): "
                f"the table allows it levels {room.lowest} to {room.highest}")
    return None


def outside_include_fault(room, header):
    """What is wrong with including a header of no room of ours."""
    library = library_of(header)
    if library is not None and library.lower() not in room.libraries:
        return f"{room.name} may not include {library} (<{header}>): the table names no such library for it"
    if room.level <= PURE_LEVELS and (header in IMPURE_HEADERS or header.startswith("sys/")):
        return f"{room.name} is pure (levels 0 to {PURE_LEVELS}) and may not include <{header}>"
    return None


def include_fault(path, room, header, rooms, root):
    if room and ".." in header.split("/"):
        return f'"{header}" climbs out of its folder: write it from whirler/ on'
    if header.startswith("whirler/"):
        return room_include_fault(room, header, rooms, root)
    if (root / path.parent / header).is_file():
        return None  # a private header beside its source
    return outside_include_fault(room, header) if room else None


def source_faults(path, rooms, root):
    text = (root / path).read_text(encoding="utf-8")
    name = room_of(path)
    if name is not None and name not in rooms:
        return [f"{path}: '{name}' is no room of the table"]
    if name is None and path.parts[0] in ("src", "include"):
        return [f"{path}: lies in no room: a source belongs to src/<room>/ or include/whirler/<room>/"]
    room = rooms.get(name)
    faults = []
    for number, line in enumerate(text.splitlines(), 1):
        match = INCLUDE.match(line)
        fault = match and include_fault(path, room, match.group(2), rooms, root)
        if fault:
            faults.append(f"{path}:{number}: {fault}")
    if room and room.level <= PURE_LEVELS:
        for number, line in enumerate(without_comments(text).splitlines(), 1):
            for word in IMPURE_WORDS.findall(line):
                faults.append(f"{path}:{number}: {room.name} is pure and may not use {word}")
    return faults


def top_level_faults(files):
    tops = {path.parts[0] for path in files}
    return [f"{top}: not among what the top level may hold"
            for top in sorted(tops) if top not in TOP_LEVEL and not top.startswith(".")]


def build_faults(rooms, root):
    """CMake's list of pure rooms says the same as the table's levels."""
    text = (root / "CMakeLists.txt").read_text(encoding="utf-8")
    match = re.search(r"set\(WHIRLER_PURE_ROOMS\s+([^)]*)\)", text)
    listed = set(match.group(1).split()) if match else set()
    pure = {room.name for room in rooms.values() if room.level <= PURE_LEVELS}
    return [f"CMakeLists.txt: WHIRLER_PURE_ROOMS and the room table differ over '{name}'"
            for name in sorted(listed ^ pure)]


def tree_faults(root):
    root = pathlib.Path(root)
    rooms = read_room_table((root / "DEVELOPERS.md").read_text(encoding="utf-8"))
    files = tracked_files(root)
    faults = top_level_faults(files) + build_faults(rooms, root)
    read = 0
    for path in files:
        if path.suffix in SOURCE_ENDINGS and path.parts[0] in ("src", "include", "tools"):
            read += 1
            faults += source_faults(path, rooms, root)
    if read == 0:
        faults.append("no source was read: is this the right folder?")
    return faults, read


def main():
    faults, read = tree_faults(sys.argv[1])
    print("\n".join(faults + [f"{read} sources read against the room table, {len(faults)} faults"]))
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
