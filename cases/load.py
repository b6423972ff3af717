"""Case files: finding, reading and naming them."""

from __future__ import annotations

import difflib
import os
import re
import stat
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import shown

if TYPE_CHECKING:
    from stringflux.geometry.case import Case

LARGEST_FILE = 1_000_000  # bytes; a case with long tables has some 50 000
TEMPLATE = Path(__file__).with_name("template.toml")


def shipped_cases() -> dict[str, Path]:
    """Cases that come with the program: name → file."""
    found = sorted(Path(__file__).parent.glob("*.toml"))
    return {path.stem: path for path in found if path != TEMPLATE}


def shipped_mixes() -> dict[str, Path]:
    """Mixes of several pickups that come with the program: name → file."""
    return {path.stem: path for path in sorted(Path(__file__).with_name("mixes").glob("*.toml"))}


def load_case(
    which: str | os.PathLike[str],
    changes: Mapping[str, Any] | None = None,
    *,
    materials: Mapping[str, str] | None = None,
) -> Case:
    """Read and check a case.

    Parameters
    ----------
    which : str or path
        A case file, or the name of a shipped case such as "baritone-six".
    changes : mapping of str to object, optional
        Values to put in place of the file's, by dotted path with items counted from 1:
        ``{"coil.turns": 6500, "pole.1.part.1.material": "alnico-2"}``.
    materials : mapping of str to str, optional
        Built-in materials and their use; the program's own table if left out.

    Returns
    -------
    Case

    Raises
    ------
    CaseError
        If there is no such case, or it says something that cannot be; one sentence.

    Examples
    --------
    >>> load_case("bench-single").racetrack().straight
    0.0
    """
    # read_case loads pydantic, which the command line's --help does without
    from stringflux.geometry.reading import read_case

    path = find_case(which)
    data = read_toml(path)
    if "pickup" in data and "coil" not in data:
        raise CaseError(f"{path.name} is a mix of several pickups, not a case; compute it by stringflux mix")
    try:
        for dotted, value in (changes or {}).items():
            change_value(data, dotted, value)
        return read_case(data, materials=built_in_uses() if materials is None else materials)
    except CaseError as error:
        raise CaseError(f"{path.name}: {error}") from None


def built_in_uses() -> dict[str, str]:
    """Use of every built-in material: "magnet", "soft" or "string"."""
    from stringflux.solver.materials import material_uses  # loads scipy, so not before it is needed

    return material_uses()


def find_case(which: str | os.PathLike[str]) -> Path:
    """File of a case given by path or by shipped name."""
    text = os.fspath(which)
    shipped = shipped_cases()
    if text in shipped:
        return shipped[text]
    path = Path(text)
    try:
        mode = path.stat().st_mode  # is_file() hides what the system says from Python 3.14 on
    except (FileNotFoundError, NotADirectoryError, ValueError):  # the last: a path with a NUL
        mode = 0
    except OSError as error:
        raise CaseError(f"{shown(text)} cannot be read: {error.strerror}") from None
    if stat.S_ISDIR(mode):
        raise CaseError(f"{shown(text)} is a folder; name a case file in it")
    if stat.S_ISREG(mode):
        return path
    if text in shipped_mixes():
        raise CaseError(f"{shown(text)} is a mix of several pickups, not a case; compute it by stringflux mix")
    names = difflib.get_close_matches(path.stem[:100].lower(), shipped, n=2, cutoff=0.5)
    hint = f"did you mean {' or '.join(names)}?" if names else f"the shipped cases are {', '.join(shipped)}"
    raise CaseError(f"{shown(text)} is neither a file nor a shipped case; {hint}")


def read_toml(path: Path) -> dict[str, Any]:
    """Content of a TOML file, or a sentence with line and column."""
    try:
        with path.open("rb") as file:
            raw = file.read(LARGEST_FILE + 1)
    except OSError as error:
        raise CaseError(f"{shown(str(path))} cannot be read: {error.strerror}") from None
    if len(raw) > LARGEST_FILE:
        raise CaseError(f"{path.name} is larger than {LARGEST_FILE // 1000} kB; a case file is far smaller")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise CaseError(f"{path.name}, line {line}: this is not UTF-8 text; save the file as UTF-8") from None
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise CaseError(f"{path.name}, {_toml_fault(str(error), text)}") from None
    except (ValueError, RecursionError, OverflowError):
        # numbers of thousands of digits, lists within lists without end
        raise CaseError(f"{path.name} holds a number or a nesting that is far too long for a case") from None


def _toml_fault(message: str, text: str) -> str:
    """ "line 3, column 7: expected …" from the reader's message, which puts the place last."""
    found = re.fullmatch(r"(.*) \(at (?:line (\d+), column (\d+)|(end of document))\)", message, re.DOTALL)
    if found is None:
        return f"the TOML is broken: {message}"
    lines = text.splitlines() or [""]
    line, column = (found[2], found[3]) if found[2] else (len(lines), len(lines[-1]) + 1)
    return f"line {line}, column {column}: the TOML is broken: {found[1][:1].lower()}{found[1][1:]}"


def change_value(data: Any, dotted: str, value: Any) -> None:
    """Put `value` at a dotted path of the file's content."""
    *path, last = dotted.split(".")
    node = data
    for step in path:
        node = node[_index(node, step, dotted)] if isinstance(node, list) else node.setdefault(step, {})
        if not isinstance(node, dict | list):
            raise CaseError(f"the change {shown(dotted)} goes through {shown(node)}, which has no keys")
    node[_index(node, last, dotted) if isinstance(node, list) else last] = value


def _index(items: list[Any], step: str, dotted: str) -> int:
    if not (step.isascii() and step.isdigit() and len(step) < 4 and 1 <= int(step) <= len(items)):
        raise CaseError(
            f"the change {shown(dotted)} has {shown(step)} where a number from 1 to {len(items)} belongs"
        )
    return int(step) - 1


def load_row_case(which: str, changes: Mapping[str, Any] | None = None, *, what: str = "this command",
                  instead: str = "") -> Case:
    """The same for commands that know one row of poles in one coil only; `what` and `instead` as below."""
    case = load_case(which, changes)
    refuse_builds(case, what, instead)
    return case


def refuse_builds(case: Case, what: str = "this command", instead: str = "") -> None:
    """Raise unless the case is one row of poles in one coil, which is all that some commands and options know.

    Parameters
    ----------
    what : str
        What knows no more.
    instead : str
        What would do; which commands take any case, if left out.
    """
    if not case.is_plain_row:
        would_do = instead or ("`stringflux predict`, `impedance`, `signal`, `pull`, `hum`, `report`, `wind`, "
                               "`readings`, `compare`, `tolerance` and `verify` take it")
        raise CaseError(f"{what} takes one row of poles in one coil at x = 0, and this case has bodies, several "
                        f"coils or no such row; {would_do}")
