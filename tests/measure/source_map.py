"""The map of DEVELOPERS.md: every package with the first sentence of its docstring.

    python tests/run.py source_map            print it
    python tests/run.py source_map --write    put it between the marks in DEVELOPERS.md
"""

from __future__ import annotations

import ast
import re
import sys

from rigs.source_tree import ROOT, TOP, sources

BEGIN, END = "<!-- map: begin -->", "<!-- map: end -->"


def source_map() -> str:
    """Markdown, a line for every package."""
    homes = sorted((p.parent for p in sources() if p.name == "__init__.py"), key=lambda p: (TOP.index(p.parts[0]), p))
    return "\n".join(f"- `{home}/` {_first((home / '__init__.py').as_posix())}" for home in homes)


def _first(path: str) -> str:
    """The first paragraph of a package's docstring, without the marks of its references."""
    docstring = ast.get_docstring(ast.parse((ROOT / path).read_text(encoding="utf-8"))) or ""
    text = " ".join(docstring.split("\n\n")[0].split()).removesuffix(":").removesuffix(".")
    text = re.sub(r":\w+:`\.?([^`]*)`", r"`\1`", text)
    return text[:1].lower() + text[1:] if text[1:2].islower() or text[1:2] == " " else text


def main() -> None:
    if "--write" not in sys.argv:
        print(source_map())
        return
    file = ROOT / "DEVELOPERS.md"
    before, rest = file.read_text(encoding="utf-8").split(BEGIN)
    after = rest.split(END)[1]
    file.write_text(f"{before}{BEGIN}\n{source_map()}\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()
