#!/usr/bin/env python3
"""Completions and manual pages as a person gets them: installed into an empty folder, then asked
through real shells and real page readers.

usage: words_check.py PROGRAM BUILD_FOLDER
"""
import os
import re
import shutil
import subprocess
import sys
import tempfile

from claims import check, verdict

PROGRAM, BUILD = sys.argv[1:3]


def run(words, **kwargs):
    return subprocess.run(words, capture_output=True, text=True, **kwargs)


def commands():
    """The commands as --help lists them."""
    lines = run([PROGRAM, "--help"]).stdout.split("Subcommands:")[1].splitlines()
    return [line.split()[0] for line in lines if re.match(r"  [a-z]", line)]


def options(command):
    """The long options as the command's --help lists them."""
    lines = run([PROGRAM, command, "--help"]).stdout.splitlines()
    return {name for line in lines if re.match(r"  -", line)
            for name in line.split()[0].split(",") if name.startswith("--")}


def bash_offers(script, words):
    """What bash completes, the last of the words being typed."""
    asked = (f'source "{script}"; COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); _whirler; '
             'printf "%s\\n" "${COMPREPLY[@]}"')
    said = run(["bash", "--norc", "--noprofile", "-c", asked, "bash", "whirler", *words])
    check(f"bash is silent about {words}", not said.stderr, said.stderr)
    return [line for line in said.stdout.splitlines() if line]


def check_bash(script, folder):
    known = commands()
    check("bash parses the completion", run(["bash", "-n", script]).returncode == 0)
    check("bash offers every command", set(known) <= set(bash_offers(script, [""])),
          bash_offers(script, [""]))
    check("bash narrows by what is typed", bash_offers(script, ["sp"]) == ["speed"])
    for command in known:
        offered = set(bash_offers(script, [command, "--"]))
        check(f"bash offers the options of {command}", offered == options(command),
              f"{offered} and not {options(command)}")
    check("bash offers the verdicts",
          bash_offers(script, ["log", "--verdict", ""]) == ["even", "watch", "stop", "cannot_tell"])
    for typed, offered in (([], ["even", "watch", "stop", "cannot_tell"]), (["st"], ["stop"])):
        check("bash offers the verdicts after an equals sign",  # of which it makes words of their own
              bash_offers(script, ["log", "--verdict", "=", *typed]) == offered, typed)
    check("bash offers nothing for a quantity", bash_offers(script, ["speed", "--target", ""]) == [])
    name = os.path.join(folder, "dünn mit Platz.json")
    open(name, "w").close()
    check("bash offers files, spaces and all",
          bash_offers(script, ["check", os.path.join(folder, "d")]) == [name])
    check("bash offers shells", bash_offers(script, ["completion", "z"]) == ["zsh"])


def check_zsh(script):
    """The arguments that zsh is told, with its own functions standing in to note them."""
    check("zsh parses the completion", run(["zsh", "-n", script]).returncode == 0)
    asked = ('_arguments() { print -rl -- "$@" }; _describe() { print -rl -- $commands }; '
             'compdef() { : }; _files() { : }; source "$1"; words=(${(s: :)2}); CURRENT=$3; _whirler')

    def told(line, current):
        return run(["zsh", "-f", "-c", asked, "zsh", script, line, str(current)]).stdout
    first = told("whirler", 2)
    for command in commands():
        check(f"zsh offers {command}", re.search(rf"^{command}:", first, re.M), first)
        line = told(f"whirler {command} --", 3)
        for option in options(command):
            check(f"zsh offers {option} of {command}", f"{option}[" in line, line)


def check_fish(script):
    check("fish parses the completion", run(["fish", "--no-execute", script]).returncode == 0)
    for words, wanted in (("sp", "speed"), ("log --verdict w", "watch"), ("report --tr", "--trend")):
        said = run(["fish", "--no-config", "-c",
                    f'source "{script}"; complete -C "whirler {words}"']).stdout
        check(f"fish completes '{words}'", wanted in said, said)


def check_pages(folder):
    pages = sorted(os.listdir(folder))
    check("a page for the program and each command",
          pages == sorted(["whirler.1"] + [f"whirler-{c}.1" for c in commands()]), pages)
    for page in pages:
        path = os.path.join(folder, page)
        if shutil.which("groff"):
            said = run(["groff", "-Kutf8", "-Tutf8", "-man", "-ww", path])
            check(f"groff reads {page} without a word", said.returncode == 0 and not said.stderr,
                  said.stderr)
        if shutil.which("mandoc"):
            said = run(["mandoc", "-T", "lint", "-W", "style", path])
            check(f"mandoc finds nothing to say of {page}", said.returncode == 0, said.stdout)
        if shutil.which("man"):
            said = run(["man", "--warnings", "-l", path],
                       env={**os.environ, "MANWIDTH": "100", "LC_ALL": "C.UTF-8", "MANPAGER": "cat"})
            check(f"man shows {page} without a warning", said.returncode == 0 and not said.stderr,
                  said.stderr)
            text = re.sub(r".\x08|\x1b\[[0-9;]*m", "", said.stdout).replace("\u2010", "-")
            command = page[len("whirler-"):-len(".1")]
            for option in options(command) if page != "whirler.1" else []:
                check(f"{page} names {option}", option in text, text)


def main():
    with tempfile.TemporaryDirectory() as root:
        made = run(["cmake", "--install", BUILD], env={**os.environ, "DESTDIR": root})
        if made.returncode != 0:
            sys.exit("the program cannot be installed\n" + made.stdout + made.stderr)
        files = [os.path.join(where, name) for where, _, names in os.walk(root) for name in names]
        found = {os.path.basename(path): path for path in files}
        bash = next((path for path in files
                     if path.endswith("bash-completion/completions/whirler")), None)
        check("bash's completion is installed", bash)
        if bash:
            check_bash(bash, root)
        for shell, name, test in (("zsh", "_whirler", check_zsh),
                                  ("fish", "whirler.fish", check_fish)):
            check(f"{shell}'s completion is installed", name in found)
            if shutil.which(shell) and name in found:
                test(found[name])
            else:
                print(f"not looked at: {shell} is not here")
        check("the pages are installed", "whirler.1" in found)
        if "whirler.1" in found:
            check_pages(os.path.dirname(found["whirler.1"]))
    return verdict(looked_at=f"{len(commands())} commands looked at, ")


if __name__ == "__main__":
    sys.exit(main())
