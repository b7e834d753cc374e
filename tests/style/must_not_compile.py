"""Code that must not compile, and beside each piece its lawful neighbour that must.

    must_not_compile.py COMPILER SOURCE_ROOT

Without the neighbour a missing header would pass for a refusal.
"""

import concurrent.futures
import subprocess
import sys

CASES = (  # what it claims, the lawful form, the form the compiler must refuse
    ("like adds to like alone", "auto r = rpm(1) + rpm(1)", "auto r = rpm(1) + seconds(1)"),
    ("like is compared with like alone", "bool b = rpm(1) < rpm(2)", "bool b = rpm(1) < hertz(2)"),
    ("a quantity is made by unit", "Speed s = rpm(3000)", "Speed s = 3000.0"),
    ("a quantity is read by unit", "double d = rpm(3000).rpm()", "double d = rpm(3000)"),
    ("a quantity has the units of its kind", "auto w = rpm(3000).rad_per_s()", "auto w = rpm(3000).um()"),
    ("two quantities have no product without a name", "auto r = 2.0 * micrometres(3)",
     "auto r = micrometres(2) * micrometres(3)"),
    ("torque is not energy", "Energy e = joules(1)", "Energy e = newton_metres(1)"),
    ("speed is not frequency", "Frequency f = hertz(50)", "Frequency f = rpm(50)"),
    ("a temperature is a point and does not add", "auto k = celsius(20).kelvin()",
     "auto k = celsius(20) + celsius(20)"),
    ("a fault is not dropped unread", 'auto r = parse<Length>("1um")', 'parse<Length>("1um")'),
    ("a length is not sent where a duration is due", "Duration d = seconds(1)", "Duration d = millimetres(1)"),
)
HEAD = '#include "whirler/units/quantities.hpp"\n#include "whirler/units/text.hpp"\nusing namespace whirler;\n'


def compiles(compiler, root, statement):
    code = f"{HEAD}void piece() {{ {statement}; }}\n"
    flags = ["-std=c++20", "-fsyntax-only", "-Werror=unused-result", f"-I{root}/include", "-xc++", "-"]
    return subprocess.run([compiler, *flags], input=code, text=True, capture_output=True, timeout=120)


def judge(compiler, root, case):
    claim, lawful, unlawful = case
    good = compiles(compiler, root, lawful)
    if good.returncode != 0:
        return f"{claim}: '{lawful}' does not compile:\n{good.stderr}"
    if compiles(compiler, root, unlawful).returncode == 0:
        return f"{claim}: '{unlawful}' compiles"
    return None


def main():
    compiler, root = sys.argv[1:3]
    with concurrent.futures.ThreadPoolExecutor(max_workers=2) as pool:
        faults = [fault for fault in pool.map(lambda case: judge(compiler, root, case), CASES) if fault]
    print("\n".join(faults + [f"{len(CASES)} claims, {len(faults)} broken"]))
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
