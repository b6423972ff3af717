"""Case files: finding, reading and naming them."""

from __future__ import annotations

import difflib
import os
import re
import stat
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.changes import change_value
from stringflux.geometry.reading.old_words import text_in_new_words
from stringflux.geometry.units import shown

from .changed import line_of
from .named_files import with_whole_paths
from .text import no_plain_file, read_text_file
from .toml_faults import toml_content

if TYPE_CHECKING:
    from stringflux.geometry.case.model import Case

TEMPLATE = Path(__file__).parents[1].joinpath("template.toml")


def shipped_cases() -> dict[str, Path]:
    """Cases that come with the program: name → file."""
    found = sorted(Path(__file__).parents[1].glob("*.toml"))
    return {path.stem: path for path in found if path != TEMPLATE}


def shipped_readings() -> dict[str, Path]:
    """Readings from the bench that come with the program: name → file."""
    return {path.stem: path for path in sorted(Path(__file__).parents[1].glob("*.csv"))}


def shipped_mixes() -> dict[str, Path]:
    """Mixes of several pickups that come with the program: name → file."""
    return {path.stem: path for path in sorted(Path(__file__).parents[1].joinpath("mixes").glob("*.toml"))}


def load_case(
    which: str | os.PathLike[str],
    changes: Mapping[str, Any] | None = None,
    *,
    materials: Mapping[str, str] | None = None,
    without_strings: bool = False,
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
    without_strings : bool
        Whether a case without strings will do, for fields, force and flux.

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
    from stringflux.geometry.reading.read import read_case

    path = find_case(which)
    text = read_text_file(path, "a case file")
    data = toml_content(text, path.name)
    if "pickup" in data and "coil" not in data:
        raise CaseError(f"{path.name} is a mix of several pickups, not a case; compute it by stringflux mix")
    try:
        for dotted, value in (changes or {}).items():
            change_value(data, dotted, value)
        data = with_whole_paths(data, path.parent)
        return read_case(data, materials=built_in_uses() if materials is None else materials,
                         without_strings=without_strings)
    except CaseError as error:
        raise CaseError(f"{path.name}{at_line(str(error), text, changes or {})}: {error}") from None


def at_line(sentence: str, text: str, changes: Iterable[str] = ()) -> str:
    """ ", line 17" for the place that a sentence begins with; nothing where the text has no such place.

    Parameters
    ----------
    changes : iterable of str
        Paths whose values come from elsewhere, not from the text.

    Examples
    --------
    >>> at_line("coil, turns: received -5; write …", "[coil]\\nturns = -5")
    ', line 2'
    """
    unknown = re.match(r'(?:([^:"]*): )?"([^"]*)" is not a key here', sentence)
    place = (unknown[1] or "") if unknown else sentence.partition(":")[0]
    path = [step for word in place.split(", ") for step in word.rsplit(" ", 1) if step]
    if unknown:
        path.append(unknown[2])
    if ".".join(path) in changes or not path:
        return ""
    number = line_of(text_in_new_words(text), path)
    return f", line {number}" if number else ""


def built_in_uses() -> dict[str, str]:
    """Use of every built-in material: "magnet", "soft" or "string"."""
    from stringflux.solver.materials import material_uses  # loads scipy, so not before it is needed

    return material_uses()


def find_case(which: str | os.PathLike[str]) -> Path:
    """File of a case given by path or by shipped name."""
    mixes = dict.fromkeys(shipped_mixes(), "is a mix of several pickups, not a case; compute it by stringflux mix")
    return find_file(os.fspath(which), "case", shipped_cases(), mixes)


def find_file(which: str, kind: str, shipped: Mapping[str, Path], others: Mapping[str, str]) -> Path:
    """A file given by path or by the name of a shipped one.

    Parameters
    ----------
    kind : {"case", "mix"}
        What is looked for.
    shipped : mapping of str to Path
    others : mapping of str to str
        Names of what is shipped of another kind, and what a sentence says of it.

    Raises
    ------
    CaseError
        If there is none, or it is no plain file.
    """
    if which in shipped:
        return shipped[which]
    path = Path(which)
    try:
        mode = path.stat().st_mode  # is_file() hides what the system says from Python 3.14 on
    except (FileNotFoundError, NotADirectoryError, ValueError):  # the last: a path with a NUL
        mode = 0
    except OSError as error:
        raise CaseError(f"{shown(which)} cannot be read: {error.strerror}") from None
    if stat.S_ISDIR(mode):
        raise CaseError(f"{shown(which)} is a folder; name a {kind} file in it")
    if stat.S_ISREG(mode):
        return path
    if mode:
        raise no_plain_file(which, f"the {kind}")
    if which in others:
        raise CaseError(f"{shown(which)} {others[which]}")
    names = difflib.get_close_matches(path.stem[:100].lower(), shipped, n=2, cutoff=0.5)
    all_of_them = f"the shipped {'cases' if kind == 'case' else 'mixes'} are {', '.join(shipped)}"
    hint = f"did you mean {' or '.join(names)}?" if names else all_of_them
    raise CaseError(f"{shown(which)} is neither a file nor a shipped {kind}; {hint}")


def find_readings(which: str) -> str:
    """A file, or shipped readings by their name, with or without its .csv."""
    shipped = shipped_readings()
    if os.path.lexists(which):
        return which
    if (name := which.removesuffix(".csv")) in shipped:
        return str(shipped[name])
    raise CaseError(f"{shown(which)} is neither a file of readings nor the name of shipped ones; "
                    f"shipped are {', '.join(shipped)}")


def read_toml(path: Path) -> dict[str, Any]:
    """Content of a TOML file, or a sentence with the line that spoils it."""
    return toml_content(read_text_file(path, "a case file"), path.name)


def read_content(which: str | os.PathLike[str], changes: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """Content of a case's file with some values changed, by dotted path."""
    path = find_case(which)
    content = read_toml(path)
    for dotted, value in (changes or {}).items():
        change_value(content, dotted, value)
    return with_whole_paths(content, path.parent)


def load_row_case(which: str | os.PathLike[str], changes: Mapping[str, Any] | None = None, *,
                  what: str = "this command", instead: str = "") -> Case:
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
        raise CaseError(f"{what} takes one row of poles in one coil at x = 0, and this case has bodies, poles "
                        f"that are not round, several coils or no such row; {would_do}")
