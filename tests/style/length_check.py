"""Measures functions and files, and names what is too long.

    length_check.py ROOT       exit status 1 if a function has over 60 lines or a file over 400

A function is counted from the first line of its head to its closing brace, comments and blank lines
included; a lambda counts with the function around it. C++ is read by braces alone, after comments,
strings and preprocessor lines are blanked: enough to tell a function from a namespace, a type and an
initialiser, with no compiler and in a fraction of a second.
"""

import ast
import pathlib
import re
import subprocess
import sys

LONGEST_FUNCTION = 60
LONGEST_FILE = 400
AIM_P90 = 25
CPP_ENDINGS = {".hpp", ".cpp", ".h", ".c"}
CODE_ENDINGS = CPP_ENDINGS | {".py", ".sh", ".cmake", ".txt", ""}
WORDS_NOT_IN_NAMES = {"utils", "util", "common", "core", "manager", "helper", "helpers"}
CODE_FOLDERS = ("src", "include", "tests", "tools")


def blanked(text):
    """The same text, line for line, with nothing left that could hold a stray brace."""
    pattern = re.compile(
        r'R"([^(\s]*)\(.*?\)\1"|//[^\n]*|/\*.*?\*/|"(?:\\.|[^"\\\n])*"|(?<![0-9a-fA-F])\'(?:\\.|[^\'\\\n])+\''
        r"|^[ \t]*#(?:[^\n\\]|\\\n|\\.)*", re.DOTALL | re.MULTILINE)
    return pattern.sub(lambda match: re.sub(r"[^\n]", " ", match.group(0)), text)


TYPE_HEAD = re.compile(r"^(?:template\b.*)?\b(namespace|class|struct|union|enum)\b[^()=]*$|^extern\s*$", re.DOTALL)


def opens_scope(head):
    """Whether the text before a brace opens a namespace, a type or a linkage block."""
    text = re.sub(r"\b(alignas|requires|decltype)\s*\([^()]*\)|\[\[[^\]]*\]\]", " ", head).strip()
    return bool(TYPE_HEAD.search(text))


def without_template_head(head):
    """Drops a leading `template <...>`, whose defaults may hold '=' and brackets."""
    text = head.lstrip()
    if not text.startswith("template"):
        return text
    depth = 0
    for position, letter in enumerate(text):
        depth += {"<": 1, ">": -1}.get(letter, 0)
        if letter == ">" and depth == 0:
            return without_template_head(text[position + 1:])
    return text


def opens_function(head):
    """Whether the text before a brace is the head of a function, of a test case or of a named lambda."""
    text = without_template_head(head)
    if "(" not in text:
        return False
    before_parameters = text[: text.index("(")]
    return "=" not in before_parameters or "operator" in before_parameters or bool(LAMBDA.search(text))


LAMBDA = re.compile(r"=\s*\[[^\]]*\]\s*\(")
ACCESS = re.compile(r"(?:\s*(?:public|private|protected)\s*:(?!:))+")


INITIALISER_BEFORE = re.compile(r"[,:]\s*(?:[\w:]+(?:<[^{}]*>)?|\.\.\.)\s*$")


def starts_member_initialiser(head):
    """`Name(...) : member_{` — the brace belongs to a member, the body is still to come."""
    close = head.find(")")
    return close >= 0 and ":" in head[close:].replace("::", "  ") and bool(INITIALISER_BEFORE.search(head))


def matching_brace(text, start):
    depth = 0
    for position in range(start, len(text)):
        if text[position] == "{":
            depth += 1
        elif text[position] == "}":
            depth -= 1
            if depth == 0:
                return position
    return len(text) - 1


def head_before(code, start, position):
    """Where the head of the brace at `position` starts, and its text: after blanks and access words."""
    match = ACCESS.match(code, start, position)
    start = match.end() if match else start
    head = code[start:position]
    return start + len(head) - len(head.lstrip()), head


def cpp_functions(text):
    """(first line, lines) of every function, lines counted from 1."""
    code = blanked(text)
    found = []
    start = position = 0
    while position < len(code):
        if code[position] in ";}":
            start = position + 1
        elif code[position] == "{":
            first, head = head_before(code, start, position)
            if opens_scope(head):
                start = position + 1
            else:
                inside_head = head.count("(") > head.count(")") or starts_member_initialiser(head)
                position = matching_brace(code, position)
                if opens_function(head) and not inside_head:
                    found.append((1 + code.count("\n", 0, first), 1 + code.count("\n", first, position)))
                    start = position + 1
        position += 1
    return found


def python_functions(text):
    return [(node.lineno, node.end_lineno - node.lineno + 1) for node in ast.walk(ast.parse(text))
            if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef))]


def functions_of(path, text):
    if path.suffix in CPP_ENDINGS:
        return cpp_functions(text)
    if path.suffix == ".py":
        return python_functions(text)
    return []


def is_code(path):
    """Sources and scripts; pages, data and drawings may be as long as they need."""
    if path.parts[0] not in CODE_FOLDERS and path.name != "CMakeLists.txt":
        return False
    if path.suffix == ".txt":
        return path.name == "CMakeLists.txt"
    return path.suffix in CODE_ENDINGS and not any(part.startswith("corpus") for part in path.parts)


def name_faults(path):
    words = {word for part in path.parts for word in re.split(r"[^a-z]+", part.lower())}
    return [f"{path}: no folder or file is called '{word}': name what it does"
            for word in sorted(words & WORDS_NOT_IN_NAMES)]


def file_faults(path, text):
    """Faults of one file, and the lengths of its functions."""
    faults = name_faults(path)
    if not is_code(path):
        return faults, []
    lines = len(text.splitlines())
    if lines > LONGEST_FILE:
        faults.append(f"{path}: {lines} lines; a file has at most {LONGEST_FILE}")
    functions = functions_of(path, text)
    faults += [f"{path}:{first}: a function of {length} lines; the limit is {LONGEST_FUNCTION}"
               for first, length in functions if length > LONGEST_FUNCTION]
    return faults, [length for _, length in functions]


def percentile(values, share):
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))] if ordered else 0


def read(path):
    try:
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        return ""


def tree_faults(root, files):
    faults, product = [], []
    for path in files:
        found, lengths = file_faults(path, read(root / path))
        faults += found
        if path.parts[0] in ("src", "include"):
            product += lengths
    return faults, product


def main():
    root = pathlib.Path(sys.argv[1])
    names = subprocess.run(["git", "-C", str(root), "ls-files", "-z"], check=True, capture_output=True,
                           text=True).stdout.split("\0")
    files = [pathlib.PurePath(name) for name in names if name and (root / name).is_file()]
    faults, product = tree_faults(root, files)
    print("\n".join(faults))
    print(f"{len(product)} functions in src and include: median {percentile(product, 0.5)} lines, "
          f"p90 {percentile(product, 0.9)} (aim {AIM_P90}), longest {max(product, default=0)}")
    return 1 if faults or not product else 0


if __name__ == "__main__":
    sys.exit(main())
