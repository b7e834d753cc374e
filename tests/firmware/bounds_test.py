"""bounds.py finds what is planted in small programs, and counts what can be counted by hand.

    bounds_test.py BOUNDS.PY
"""

import pathlib
import subprocess
import sys
import tempfile

HEAD = "#include <avr/io.h>\n#include <avr/interrupt.h>\nvolatile uint8_t a, b;\n"
MAIN = "int main(void) { sei(); for (;;) a++; }\n"
ROLL = "ISR(TIMER1_OVF_vect) { a = b; }\n"
CASES = [
    ("sound", HEAD + ROLL + MAIN, None),
    ("a loop in an interrupt", HEAD + "ISR(TIMER1_OVF_vect) { while (PINB & 1) { } }\n" + MAIN, "its time has no bound"),
    ("a long interrupt", HEAD + "ISR(TIMER1_OVF_vect) { " + "a++; " * 60 + "}\n" + MAIN, "cycles are over"),
    ("an interrupt that lets others in", HEAD + "ISR(TIMER1_OVF_vect) { sei(); a = b; }\n" + MAIN, "lets others in"),
    ("recursion", HEAD + ROLL + "__attribute__((noinline)) uint8_t f(uint8_t n) { return n ? f(n - 1) + f(b) + a : a; }\n"
     "int main(void) { sei(); for (;;) a = f(b); }\n", "recursion"),
    ("a call through a pointer", HEAD + ROLL + "void (*volatile call)(void);\nint main(void) { sei(); for (;;) call(); }\n",
     "through a pointer"),
    ("too much on the stack", HEAD + ROLL + "__attribute__((noinline)) void g(volatile uint8_t* p) { p[a] = b; }\n"
     "__attribute__((noinline)) void f(void) { volatile uint8_t room[2000]; g(room); }\n"
     "int main(void) { sei(); for (;;) f(); }\n", "between stack and variables"),
]
# TIMER1_OVF saves three registers and the status, copies a byte and gives all back, answered after 4
# cycles and a jump of 3: push r1, push r0, in, push r0, eor, push r24, lds, sts, pop r24, pop r0, out,
# pop r0, pop r1, reti. By the instruction set manual: 4+3 + 2+2+1+2+1+2 + 2+2 + 2+2+1+2+2+4 = 34. A newer
# compiler saves fewer registers: 22 at the least (4+3 + push, lds, sts, pop, reti and a jump's room).
CYCLES = range(19, 35)


def run(bounds, folder, source):
    code, elf = folder / "planted.c", folder / "planted.elf"
    code.write_text(source, encoding="utf-8")
    subprocess.run(["avr-gcc", "-mmcu=atmega328p", "-Os", "-o", str(elf), str(code)], check=True)
    return subprocess.run([sys.executable, bounds, str(elf)], capture_output=True, text=True)


def case_fault(name, ended, wanted):
    if wanted is None and ended.returncode != 0:
        return f"{name}: refused: {ended.stderr}"
    if wanted is not None and (ended.returncode != 1 or wanted not in ended.stderr):
        return f"{name}: not found; status {ended.returncode}: {ended.stderr or ended.stdout}"
    return None


def main():
    faults = []
    with tempfile.TemporaryDirectory() as folder:
        for name, source, wanted in CASES:
            ended = run(sys.argv[1], pathlib.Path(folder), source)
            faults.append(case_fault(name, ended, wanted))
            if wanted is None:
                row = next(line for line in ended.stdout.splitlines() if "overflow" in line)
                if int(row.split()[3]) not in CYCLES:
                    faults.append(f"by hand {CYCLES[-1]} cycles at most: {row}")
    faults = [fault for fault in faults if fault]
    print("\n".join(faults) if faults else f"{len(CASES)} programs judged as they are")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
