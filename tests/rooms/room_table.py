"""The room table of DEVELOPERS.md as data: the one place where the rooms are written down."""

import dataclasses
import re


@dataclasses.dataclass(frozen=True)
class Room:
    name: str
    level: int
    lowest: int  # levels lowest..highest may be included, and nothing else
    highest: int
    libraries: frozenset  # in small letters


def _levels(text, level):
    """'std' -> nothing; '0' ; '0, 1' ; '0-2' ; 'all' -> every level below."""
    if text == "std":
        return (0, -1)
    if text == "all":
        return (0, level - 1)
    numbers = [int(n) for n in re.findall(r"\d+", text)]
    if not numbers:
        raise ValueError(f"room table: '{text}' names no levels")
    return (min(numbers), max(numbers))


def read_room_table(markdown):
    """Rooms by name. Raises ValueError when the text has no table that can be read."""
    rooms = {}
    in_table = False
    for line in markdown.splitlines():
        cells = [cell.strip() for cell in line.strip().strip("|").split("|")]
        if cells[:2] == ["level", "room"]:
            in_table = True
        elif in_table and not line.startswith("|"):
            break
        elif in_table and re.fullmatch(r"\d+", cells[0]):
            level = int(cells[0])
            lowest, highest = _levels(cells[3], level)
            libraries = frozenset(part.strip().lower() for part in cells[4].split(",") if part.strip())
            rooms[cells[1]] = Room(cells[1], level, lowest, highest, libraries)
    if not rooms:
        raise ValueError("no room table found: a table that starts with the columns 'level' and 'room'")
    return rooms
