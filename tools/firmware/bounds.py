#!/usr/bin/python3
"""Bounds that no test run can give: the firmware's worst stack and its longest interrupts.

    bounds.py ELF [ELF...] [--measured "firmware_bench sizes"] [--figures FILE]

Reads the linked program (avr-objdump), follows every path through it, and adds up. Stack: the
deepest chain of calls of the main program, and on top of it the deepest interrupt; no interrupt lets
another in, which is checked. Cycles: the longest path of each interrupt from the chip's answer to
its return, and the longest stretch for which the main program keeps interrupts waiting; such paths
must have no loop, which is checked too. Cycle counts are those of the instruction set manual for
this core (DS40002198, AVRe+).

Prints the figures. Exit 1 where a limit is passed, or where the bench measured more than the bound.
"""

import argparse
import re
import shlex
import subprocess
import sys

FLASH_LIMIT = 30720  # with a boot loader of 2 KB
RAM = 2048
STACK_SPARE = 64     # at the least between the deepest stack and the variables
INTERRUPT_LIMIT = 250
WAIT_LIMIT = 640     # two bytes of the line: what the receiver holds while nobody listens
ANSWER_CYCLES = 4    # from the flag to the vector
NAMES = {1: "lid", 2: "wide mark", 7: "millisecond", 10: "tach", 11: "servo edge", 13: "overflow",
         18: "byte in", 19: "byte out"}

BRANCH = re.compile(r"br\w\w$")
SKIP = {"cpse", "sbrc", "sbrs", "sbic", "sbis"}
TWO = {"ld", "ldd", "st", "std", "lds", "sts", "push", "pop", "adiw", "sbiw", "mul", "muls", "mulsu",
       "fmul", "fmuls", "fmulsu", "rjmp", "sbi", "cbi"}
MORE = {"lpm": 3, "jmp": 3, "rcall": 3, "call": 4, "ret": 4, "reti": 4}


class Fault(Exception):
    pass


class Code:
    """The program's instructions: at an address its name, its operands, and the address behind it."""

    LINE = re.compile(r"^\s*([0-9a-f]+):\t(?:[0-9a-f]{2} )+\s*\t(\S+)\t?([^;]*)(?:;\s*(.*))?$")

    def __init__(self, elf):
        text = subprocess.run(["avr-objdump", "-d", elf], check=True, capture_output=True, text=True).stdout
        self.at = {}
        rows = [match.groups() for match in map(self.LINE.match, text.splitlines()) if match]
        starts = [int(row[0], 16) for row in rows] + [1 << 20]
        for (start, name, operands, note), after in zip(rows, starts[1:]):
            size = 4 if name in ("call", "jmp", "lds", "sts") else 2
            self.at[int(start, 16)] = (name, operands.strip(), note or "", min(after, int(start, 16) + size))
        symbols = subprocess.run(["avr-nm", elf], check=True, capture_output=True, text=True).stdout
        self.symbols = {row.split()[2]: int(row.split()[0], 16) for row in symbols.splitlines()}

    def target(self, address):
        """Where a jump, branch or call goes."""
        _, operands, note, after = self.at[address]
        found = re.search(r"0x([0-9a-f]+)", note) or re.match(r"0x([0-9a-f]+)", operands)
        if found:
            return int(found.group(1), 16)
        return after + int(re.match(r"\.([+-]?\d+)", operands).group(1))

    def vectors(self):
        return {int(name[9:]): at for name, at in self.symbols.items()
                if re.match(r"__vector_\d+$", name) and at != self.symbols["__bad_interrupt"]}


class Stack:
    """Deepest use of the stack, in bytes, from an address on. Frames are followed through Y."""

    def __init__(self, code):
        self.code, self.known, self.open = code, {}, set()

    def below(self, entry):
        if entry in self.known:
            return self.known[entry]
        if entry in self.open:
            raise Fault(f"recursion at {entry:#x}: its stack has no bound")
        self.open.add(entry)
        deepest, seen, todo = 0, set(), [(entry, 0, None)]
        while todo:
            state = todo.pop()
            if state in seen:
                continue
            seen.add(state)
            if len(seen) > 200000:
                raise Fault(f"too many states from {entry:#x}")
            depth, following = self.step(*state)
            deepest = max(deepest, depth)
            todo += following
        self.open.discard(entry)
        self.known[entry] = deepest
        return deepest

    def step(self, at, sp, y):
        """One instruction: the depth in it, and the states behind it as (address, SP, Y)."""
        name, operands, _, after = self.code.at[at]
        if name in ("ret", "reti"):
            return sp, []
        if name in ("icall", "ijmp", "eicall"):
            raise Fault(f"a call through a pointer at {at:#x}: its stack has no bound")
        if name == "jmp" or name == "rjmp":
            target = self.code.target(at)
            return sp, [] if target == at else [(target, sp, y)]
        if name in ("call", "rcall"):
            target = self.code.target(at)
            if target == after:  # a compiler's way to make room for two bytes
                return sp + 2, [(after, sp + 2, y)]
            return sp + 2 + self.below(target), [(after, sp, y)]
        if name == "push":
            return sp + 1, [(after, sp + 1, y)]
        if name == "pop":
            return sp, [(after, sp - 1, self.y_after(name, operands, sp, y))]
        if name == "out" and operands.startswith("0x3d"):
            if not isinstance(y, int):
                raise Fault(f"the stack pointer is set to what is not known at {at:#x}")
            sp = y
        if name == "out" and operands.startswith("0x3e"):
            return sp, [(after, sp, y)]
        following = [(after, sp, self.y_after(name, operands, sp, y))]
        if BRANCH.match(name):
            following.append((self.code.target(at), sp, y))
        if name in SKIP:
            following.append((self.code.at[after][3], sp, y))
        return sp, following

    @staticmethod
    def y_after(name, operands, sp, y):
        """How deep Y points, where an instruction changes it; None where that is not known."""
        first, _, second = (part.strip() for part in operands.partition(","))
        if name == "in" and first in ("r28", "r29"):
            return sp
        if isinstance(y, int) and name in ("sbiw", "adiw") and first == "r28":
            return y + int(second, 16) * (1 if name == "sbiw" else -1)
        if isinstance(y, int) and name == "subi" and first == "r28":
            return (y, int(second, 16))  # the low byte; the high one follows
        if isinstance(y, tuple) and name in ("sbci", "sbc") and first == "r29":
            high = 0 if second == "r1" else int(second, 16)  # r1 is the compiler's zero
            whole = high << 8 | y[1]
            return y[0] + (whole - 0x10000 if whole & 0x8000 else whole)
        writes = name not in ("cp", "cpc", "cpi", "push", "std", "st", "out", "sts", "cpse", "tst")
        return None if writes and first in ("r28", "r29") else y


class Cycles:
    """Longest path from an address to its return, or to where `ends` says."""

    def __init__(self, code):
        self.code, self.known = code, {}

    def longest(self, entry, ends=None, path=()):
        key = (entry, ends)
        if key in self.known:
            return self.known[key]
        if entry in path:
            raise Fault(f"a loop at {entry:#x}: its time has no bound")
        name, operands, _, after = self.code.at[entry]
        cost = 2 if name in TWO else MORE.get(name, 1)
        if name in ("ret", "reti") or (ends and name == "out" and operands.startswith(ends)):
            self.known[key] = cost
            return cost
        path += (entry,)
        self.known[key] = cost + self.behind(entry, name, after, ends, path)
        return self.known[key]

    def behind(self, entry, name, after, ends, path):
        if name in ("jmp", "rjmp"):
            return self.longest(self.code.target(entry), ends, path)
        ways = [self.longest(after, ends, path)]
        if name in ("call", "rcall") and self.code.target(entry) != after:
            ways[0] += self.longest(self.code.target(entry), None, path)
        if BRANCH.match(name):
            ways.append(1 + self.longest(self.code.target(entry), ends, path))
        if name in SKIP:
            behind = self.code.at[after][3]
            ways.append((behind - after) // 2 + self.longest(behind, ends, path))
        return max(ways)


def interrupt_cycles(code):
    cycles = Cycles(code)
    jump = MORE["jmp"]
    return {number: ANSWER_CYCLES + jump + cycles.longest(at) for number, at in code.vectors().items()}


def longest_wait(code):
    """Longest stretch of the main program from `cli` to the return of the status register."""
    cycles, worst = Cycles(code), 0
    for at, (name, _, _, after) in code.at.items():
        if name != "cli":
            continue
        if code.at[after][0] == "rjmp" and code.target(after) == after:
            continue  # where a program ends that never does
        worst = max(worst, 1 + cycles.longest(after, "0x3f"))
    return worst


def interrupts_nest(code):
    """Whether any interrupt lets others in: it would show as `sei` on one of its paths."""
    seen, todo = set(), list(code.vectors().values())
    while todo:
        at = todo.pop()
        if at in seen or at not in code.at:
            continue
        seen.add(at)
        name, _, _, after = code.at[at]
        if name == "sei":
            return True
        if name in ("call", "rcall", "jmp", "rjmp") or BRANCH.match(name):
            todo.append(code.target(at))
        if name not in ("jmp", "rjmp", "ret", "reti"):
            todo.append(after)
        if name in SKIP:
            todo.append(code.at[after][3])
    return False


def sections(elf):
    """Bytes of flash and of variables."""
    text = subprocess.run(["avr-size", "-A", elf], check=True, capture_output=True, text=True).stdout
    size = {row.split()[0]: int(row.split()[1]) for row in text.splitlines() if row.startswith(".")}
    data = size.get(".data", 0)
    return size[".text"] + data, data + size.get(".bss", 0) + size.get(".noinit", 0)


class Bounds:
    def __init__(self, elf):
        code = Code(elf)
        if interrupts_nest(code):
            raise Fault("an interrupt lets others in: the stack's bound would be another")
        stack = Stack(code)
        self.flash, self.variables = sections(elf)
        self.main = 2 + stack.below(code.symbols["main"])
        self.interrupt = 2 + max(stack.below(at) for at in code.vectors().values())
        self.cycles = interrupt_cycles(code)
        self.wait = longest_wait(code)

    def stack(self):
        return self.main + self.interrupt

    def text(self):
        left = RAM - self.variables - self.stack()
        lines = [f"  flash {self.flash} of {FLASH_LIMIT}, variables {self.variables} of {RAM}",
                 f"  stack at most {self.main} + {self.interrupt} in an interrupt = {self.stack()}; {left} bytes to spare",
                 f"  the main program keeps interrupts waiting for at most {self.wait} cycles"]
        return lines + [f"  {NAMES[number]:<12} at most {count} cycles, {count / 16:.1f} us"
                        for number, count in sorted(self.cycles.items())]

    def faults(self):
        found = []
        if self.flash > FLASH_LIMIT:
            found.append(f"flash {self.flash} is over {FLASH_LIMIT}")
        if RAM - self.variables - self.stack() < STACK_SPARE:
            found.append(f"less than {STACK_SPARE} bytes between stack and variables")
        found += [f"{NAMES[number]}: {count} cycles are over {INTERRUPT_LIMIT}"
                  for number, count in self.cycles.items() if count > INTERRUPT_LIMIT]
        longest = sum(sorted(self.cycles.values())[-2:]) + self.wait
        if longest > WAIT_LIMIT:
            found.append(f"a byte may wait {longest} cycles, over {WAIT_LIMIT}")
        return found

    def contradicted_by(self, measured):
        """What the bench measured and the bound denies."""
        found = []
        used = int(re.search(r"stack (\d+)", measured).group(1))
        if used > self.stack():
            found.append(f"measured stack {used} is over the bound {self.stack()}")
        for number, count in self.cycles.items():
            seen = re.search(rf"\b{NAMES[number]} \(.*?\) +(\d+) cycles", measured)
            if seen and int(seen.group(1)) > count:
                found.append(f"{NAMES[number]}: measured {seen.group(1)} cycles, bound {count}")
        return found


def main():
    words = argparse.ArgumentParser(description="Worst stack and longest interrupts of the firmware.")
    words.add_argument("elf", nargs="+")
    words.add_argument("--measured", metavar="COMMAND", help="prints what the bench measured of the first ELF")
    words.add_argument("--figures", metavar="FILE", help="keeps the figures there too")
    given = words.parse_args()
    lines, faults = [], []
    for elf in given.elf:
        try:
            bounds = Bounds(elf)
        except Fault as fault:
            faults.append(f"{elf}: {fault}")
            continue
        lines += [elf, *bounds.text()]
        faults += [f"{elf}: {fault}" for fault in bounds.faults()]
        if given.measured and elf == given.elf[0]:
            measured = subprocess.run(shlex.split(given.measured), check=True, capture_output=True, text=True).stdout
            faults += [f"{elf}: {fault}" for fault in bounds.contradicted_by(measured)]
    text = "\n".join(lines) + "\n"
    print(text, end="")
    if given.figures:
        with open(given.figures, "w", encoding="utf-8") as file:
            file.write(text)
    for fault in faults:
        print("bounds: " + fault, file=sys.stderr)
    return 1 if faults else 0


if __name__ == "__main__":
    sys.setrecursionlimit(20000)
    sys.exit(main())
