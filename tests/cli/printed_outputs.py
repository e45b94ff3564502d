#!/usr/bin/python3
"""Runs every command line of README and guide as it stands, and holds what the pages print against what is printed.

  tests/cli/printed_outputs.py PROGRAM ROOT            exit status 1 where something differs
  tests/cli/printed_outputs.py PROGRAM ROOT --write    writes the pages anew

A block of commands begins with the program's name; a block behind a mark such as <!-- plan --> is what the block before
it prints, or its beginning where it ends with a line of three dots. Words have to be the same, whatever the line breaks; numbers to 2 %, since libraries of other machines round
otherwise. Each page has a library of its own.
"""

import pathlib
import re
import subprocess
import sys
import tempfile

sys.dont_write_bytecode = True
PAGES = ("README.md", "docs/guide.md")
COMMANDS = ("inspect", "characterise", "import", "fit", "recommend", "curve", "simulate", "plan", "compare", "report",
            "catalogue", "lamps", "show", "remove")
MADE = ("workshop.json", "candle.html", "lamps.html", "schedule.html", "boathouse_lamps/index.html")
LOOSE = 0.02
NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e-?\d+)?")


def main():
    program, root, write = pathlib.Path(sys.argv[1]).resolve(), pathlib.Path(sys.argv[2]).resolve(), "--write" in sys.argv
    faults = []
    commands = ""
    for page in PAGES:
        with tempfile.TemporaryDirectory() as folder:
            place = pathlib.Path(folder)
            (place / "sample_captures").symlink_to(root / "sample_captures")
            text, run, found = checked(root / page, program, place)
            commands += run
            faults += [f"{page}: {fault}" for fault in found]
            if page == "docs/guide.md":
                faults += [f"{page}: {name} was not made" for name in MADE if not (place / name).exists()]
            if write:
                (root / page).write_text(text, encoding="utf-8")
    faults += [f"no page has a line with 'lampload {name}'" for name in COMMANDS if f"lampload {name}" not in commands]
    for fault in faults:
        print(fault)
    return 1 if faults and not write else 0


def checked(page, program, place):
    """The page with what is printed now, its command lines, and what is wrong with it."""
    parts = re.split(r"^(```\n.*?^```\n)", page.read_text(encoding="utf-8"), flags=re.M | re.S)
    lines = [part.count("\n") for part in parts]
    faults, commands, printed = [], "", None
    for k in range(1, len(parts), 2):
        block = parts[k][4:-4]
        if block.startswith("lampload "):
            printed, complaint = answer(block, program, place)
            commands += block
            if complaint:
                faults.append(f"{block.strip()}\n{complaint}")
        elif re.search(r"^<!-- [a-z ]+ -->\n\n$", parts[k - 1], flags=re.M) and printed is not None:
            if block.endswith("\n...\n"):
                printed = "".join(printed.splitlines(keepends=True)[:block.count("\n") - 1]) + "...\n"
            difference = first_difference(block, printed)
            if difference:
                faults.append(f"the block of line {sum(lines[:k]) + 1} is not what is "
                              f"printed: {difference}")
            parts[k] = f"```\n{printed}```\n"
            printed = None
    return "".join(parts), commands, faults


def answer(block, program, place):
    script = f"set -eu\nexport XDG_DATA_HOME=\"$PWD/data\"\nlampload() {{ '{program}' \"$@\"; }}\n{block}"
    run = subprocess.run(["bash", "-c", script], cwd=place, capture_output=True, text=True, check=False)
    complaint = run.stderr if run.returncode == 0 else f"exit status {run.returncode}: {run.stderr}"
    return run.stdout, complaint


def first_difference(page, printed):
    here, now = page.split(), printed.split()
    for a, b in zip(here + [""] * (len(now) - len(here)), now + [""] * (len(here) - len(now))):
        if NUMBER.sub("#", a) != NUMBER.sub("#", b):
            return f"'{a}' for '{b}'"
        for x, y in zip(NUMBER.findall(a), NUMBER.findall(b)):
            if abs(float(x) - float(y)) > LOOSE * max(abs(float(x)), abs(float(y))):
                return f"'{a}' for '{b}'"
    return ""


if __name__ == "__main__":
    sys.exit(main())
