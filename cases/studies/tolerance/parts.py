"""The parts of a case that scatter, as the causes of a tolerance study count them: rows, magnets, their batches.

Poles count on through all rows, bodies of [[body]] after them. A batch is all magnets of one material.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from stringflux.geometry.case.materials import LinearMagnet
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.geometry.case.rows import PoleRow
from stringflux.geometry.errors import CaseError
from stringflux.solver.materials import StringSteel, string_metal

from ...solved.materials import case_materials

TOUCHING = 1e-6  # m: what lies nearer to a foot than this carries it


@dataclass(frozen=True, kw_only=True)
class Magnet:
    """A pole that holds magnets, or a body that is one.

    Attributes
    ----------
    number : int
        Of the pole; of the body after all poles.
    name : str
        What it is called: "3" for a pole, "bar" for a body.
    materials : tuple of str
        Of its magnets, each once.
    row : int or None
        Index of its row; None for a body.
    """

    number: int
    name: str
    materials: tuple[str, ...]
    row: int | None = None


def magnets_of(case: Case) -> tuple[Magnet, ...]:
    """All magnets, in the order of their numbers."""
    out = []
    for r, row in enumerate(case.rows()):
        made = {n: pole for entry, pole in enumerate(row.pole) for n in row.numbers(entry)}
        for n, pole in sorted(made.items()):
            materials = tuple(dict.fromkeys(p.material for p in pole.part if p.polarity is not None))
            if materials:
                number = row.before + n
                out.append(Magnet(number=number, name=str(number), materials=materials, row=r))
    poles = pole_count(case)
    for i, body in enumerate(case.own_bodies(), start=1):
        if body.magnetisation is not None:
            out.append(Magnet(number=poles + i, name=body.name, materials=(body.material,)))
    return tuple(out)


def has_coercivity(case: Case, material: str) -> bool:
    """Whether a magnet's material has a loop, and not a straight line through its remanence."""
    return not isinstance(case.materials.get(material), LinearMagnet)


def batches_of(case: Case) -> dict[str, int]:
    """Number of the batch of every magnet material: 0 for the only one, else from 1 on."""
    names = tuple(dict.fromkeys(name for magnet in magnets_of(case) for name in magnet.materials))
    return {name: i for i, name in enumerate(names, start=1 if len(names) > 1 else 0)}


def pole_count(case: Case) -> int:
    """Poles of all rows."""
    return sum(len(row.row.places()) for row in case.rows())


def held_strings(case: Case) -> tuple[int, ...]:
    """Numbers of the strings whose steel remembers: held in a part of it, in core or wrap."""
    return tuple(i for i, metals in enumerate(string_metals(case), start=1) if metals)


def string_metals(case: Case) -> tuple[tuple[StringSteel, ...], ...]:
    """Of every string the metals that remember; none where the case says that its strings follow one curve."""
    materials, out = case_materials(case), []
    for string in placed_strings(case):
        shape = string.shape
        metals = [string_metal(materials, name) for name in (shape.steel, shape.wrap) if name]
        out.append(tuple(m for m in metals if shape.pinning * m.pinning > 0 and m.chi_reversible < m.chi_initial
                         and shape.state != "curve"))
    return tuple(out)


def row_tables(case: Case, document: Mapping[str, Any]) -> list[tuple[PoleRow, dict[str, Any]]]:
    """Every row with the table of the file's content that has its `row` and `pole`."""
    tables = {f"second_coil {i}, ": table for i, table in enumerate(document.get("second_coil", ()), start=1)}
    tables[""] = document
    return [(row, tables[row.where]) for row in case.rows()]


def stands_on_a_body(case: Case, row: PoleRow, index: int) -> bool:
    """Whether the foot of a pole (from 0, in its row) rests on a body of [[body]]."""
    pole, x = row.placed()[index], row.row.x
    foot, radius = pole.face + pole.shape.bottom, pole.shape.radius
    for body in case.own_bodies():
        low, high = body.form.bounds
        if (abs(high[2] - foot) < TOUCHING and low[0] - radius < x < high[0] + radius
                and low[1] - radius < pole.y < high[1] + radius):
            return True
    return False


def refuse_heights_unsaid(case: Case) -> None:
    """Refuse heights of poles to scatter where one stands on a body and no key says how high it is.

    Raises
    ------
    CaseError
        If there is one.
    """
    for row in case.rows():
        for entry, pole in enumerate(row.pole):
            for n in row.numbers(entry):
                if not pole.part[0].tall_key and stands_on_a_body(case, row, n - 1):
                    raise CaseError(f"scatter, height: pole {row.before + n} stands on a body, and no key of its "
                                    "uppermost part says how high that is, so it cannot be made higher; write "
                                    'height = "0 mm" in [scatter], or end the pole clear of the body')
