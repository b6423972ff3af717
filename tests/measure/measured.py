"""Renew the tables of docs/measured.md and docs/magnet.md: every block of them is what its command prints.

    python tests/run.py measured              all of them, which takes hours (`make measured`)
    python tests/run.py measured reference    those of one script
    python tests/run.py measured --list       which they are

A block begins with ``<!-- run: reference orders -->`` and ends with ``<!-- end -->``.
"""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
PAGES = tuple(ROOT / "docs" / name for name in ("measured.md", "magnet.md"))
BLOCK = re.compile(r"(<!-- run: ([\w. =-]+?) -->\n)(.*?)(<!-- end -->)", re.DOTALL)


def commands() -> list[str]:
    """What the pages' blocks are printed by, without `python tests/run.py`."""
    return [match[2] for page in PAGES for match in BLOCK.finditer(page.read_text(encoding="utf-8"))]


def printed(command: str) -> str:
    """What a command prints."""
    done = subprocess.run([sys.executable, ROOT / "tests" / "run.py", *command.split()], check=True, text=True,
                          stdout=subprocess.PIPE)
    return done.stdout.strip() + "\n"


def main() -> None:
    wanted = sys.argv[1:]
    for command in commands():
        if wanted and command.split()[0] not in wanted:
            continue
        print(f"python tests/run.py {command}", flush=True)
        found = printed(command)
        for page in PAGES:
            text = page.read_text(encoding="utf-8")  # as it is now: an hour may have passed
            new = BLOCK.sub(lambda m, c=command, f=found: f"{m[1]}\n{f}\n{m[4]}" if m[2] == c else m[0], text)
            if new != text:
                page.write_text(new, encoding="utf-8")


if __name__ == "__main__":
    main()
