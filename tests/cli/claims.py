"""Claims about the whole program, each checked, and told together at the end."""

FAULTS = []


def check(claim, holds, shown=""):
    if not holds:
        FAULTS.append(f"{claim}\n    {shown}".rstrip())


def verdict(most=None, looked_at=""):
    """Prints the claims that did not hold, `most` at most; the program's exit status."""
    for fault in FAULTS[:most]:
        print("FAULT:", fault)
    print(f"{looked_at}{len(FAULTS)} faults")
    return 1 if FAULTS else 0
