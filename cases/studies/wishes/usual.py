"""What may change where nobody says: wires next to the case's, turns that fit, magnets of the same kind.

Magnets of one kind have the first word of their names in common: alnico, ceramic. Wires are those of the case's own
table, two on each side of its own. Turns go from the most that a scattered winding usually holds, or as full as the
case says, down to two fifths of that.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import product
from math import floor, pi
from typing import Any

from stringflux.geometry.case.coil import Coil
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.wire import SCATTERED_FILL, find_wire, wire_sizes
from stringflux.geometry.errors import CaseError
from stringflux.postprocess.coil.winding import Winding

from ...files.load import built_in_uses
from ...solved.windings import coil_windings
from ..compare.fields import CaseField, FieldPlace, find_field
from ..compare.plan import Plan
from ..compare.variations import Variation, made_value

BESIDE = 2
SHARES = (1.0, 0.85, 0.7, 0.55, 0.4)
ROUND = 50
_KIND = re.compile(r"[a-z]+(?=-)")


def usual_variations(case: Case, document: Mapping[str, Any], *, turns: bool, notes: list[str]) -> Plan:
    """The designs, and what is said of them.

    Parameters
    ----------
    turns : bool
        Whether they have turns of their own; else these are looked for.
    notes : list of str
        Sentences are added.
    """
    variations = [*_magnets(case, document, notes)]
    wires = _wires(case)
    whose = " (all coils alike)" if case.second_coil else ""
    found = _of_coils("wire", case, document)
    variations.append(Variation(field=found, values=tuple(made_value(found, wire) for wire in wires)))
    notes.append(f"Wires{whose}: {', '.join(wires)}.")
    if not turns:
        return Plan(variations=tuple(variations))
    field, counts = _of_coils("turns", case, document), [_counts(case, wire) for wire in wires]
    every = sorted({n for some in counts for n in some})
    variations.append(Variation(field=field, values=tuple(made_value(field, n) for n in every)))
    notes.append(f"Turns{whose}: {100 * SHARES[-1]:.0f} to 100 % of what each wire's window holds, "
                 f"{every[0]} to {every[-1]}.")
    plan = Plan(variations=tuple(variations))
    own = [set(some) for some in counts]
    places = product(range(len(plan) // len(wires) // len(every)), range(len(wires)), range(len(every)))
    return replace(plan, kept=tuple(i for i, (_, w, n) in enumerate(places) if every[n] in own[w]))


def _magnets(case: Case, document: Mapping[str, Any], notes: list[str]) -> Iterator[Variation]:
    """The materials of all magnets, where they are all of one kind of the table."""
    uses, places, names = built_in_uses(), list[FieldPlace](), set[str]()
    first: CaseField | None = None
    for path in ("pole.part.material", "body.material", "second_coil.pole.part.material"):
        try:
            found = find_field(path, document, case)
        except CaseError:
            continue
        here = [p for p in found.places if _at(document, p.steps) in case.materials
                or uses.get(_at(document, p.steps)) == "magnet"]
        here = [p for p in here if _is_magnet(_above(document, p.steps))]
        places += here
        names |= {_at(document, p.steps) for p in here}
        first = first or (found if here else None)
    kind = _KIND.match(next(iter(names))) if len(names) == 1 else None
    same = [name for name, use in uses.items() if use == "magnet" and kind and name.startswith(f"{kind[0]}-")]
    if first is None or not names <= set(same) or len(same) < 2:
        notes.append("Magnets: as they are.")
        return
    field = replace(first, places=tuple(places))
    notes.append(f"Magnets (all alike): {', '.join(same)}.")
    yield Variation(field=field, values=tuple(made_value(field, name) for name in same))


def _at(document: Mapping[str, Any], steps: Sequence[str]) -> str:
    return str(_above(document, steps).get(steps[-1], ""))


def _above(document: Mapping[str, Any], steps: Sequence[str]) -> Any:
    """The table that a key stands in."""
    node: Any = document
    for step in steps[:-1]:
        node = node[int(step) - 1] if isinstance(node, list) else node[step]
    return node


def _is_magnet(table: Mapping[str, Any]) -> bool:
    return "polarity" in table or "magnetised" in table


def _of_coils(key: str, case: Case, document: Mapping[str, Any]) -> CaseField:
    """A key of all coils as one field."""
    field = find_field(f"coil.{key}", document, case)
    more = find_field(f"second_coil.coil.{key}", document, case).places if case.second_coil else ()
    return replace(field, places=(*field.places, *more))


def _wires(case: Case) -> list[str]:
    """The case's wire and its neighbours in the table; itself alone where it is in none, or coils have several."""
    own = {coil.wire for coil in case.coils()}
    coil = case.coil
    bare = coil.winding_wire().bare
    sizes = [size for size in wire_sizes() if ("AWG" in size) == ("awg" in coil.wire.lower())]
    near = [i for i, size in enumerate(sizes) if abs(_bare(size) - bare) < 5e-7]
    if not near or len(own) > 1 or any(c.overall_diameter is not None for c in case.coils()):
        return [coil.wire]
    return sizes[max(near[0] - BESIDE, 0):near[0] + BESIDE + 1]


def _bare(size: str) -> float:
    return find_wire(size).bare


def _counts(case: Case, wire: str) -> list[int]:
    """Turns of a wire, the most first, that every coil of the case has room for."""
    def most(coil: Coil, made: Winding) -> float:
        overall = find_wire(wire, coil.insulation, coil.overall_diameter).overall[1]
        area = coil.thickness * (coil.top - coil.bottom)
        return (made.packed if made.packed_known else SCATTERED_FILL) * area / (pi / 4 * overall**2)

    fits = min(most(coil, made) for coil, made in zip(case.coils(), coil_windings(case), strict=True))
    return [max(floor(share * fits / ROUND) * ROUND, 1) for share in SHARES]
