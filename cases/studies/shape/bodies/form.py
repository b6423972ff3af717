"""Lengths of a body of `[[body]]` that a search may vary, and the case that they make.

A length is a key of the body, or a number within one: `tip_along`, `chamfer`, `outline.3.2` (the second number of the
third corner), `cut.1.height`. The form `edge` takes the heights of all corners of a prism's upper edge, or of the
upper side of a body of revolution.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.bodies import Body, PrismBody, RevolvedBody
from stringflux.geometry.case.keys import near
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.read import changed_case
from stringflux.geometry.shapes.bodies import SolidBody
from stringflux.geometry.shapes.profiles import Edge
from stringflux.geometry.units import mm, shown
from stringflux.postprocess.string.linkage import CLEARANCE

from ....files.load import built_in_uses
from ..forms import FormLength, Lengths
from ..varied import VariedLength

MOST = 24  # lengths of one search
_NO_LENGTHS = ("charge", "coercivity_scale", "remanence_scale", "magnetised", "rotated")
_MOVED = 1e-7  # m


@dataclass(frozen=True, kw_only=True)
class BodyForm(Lengths):
    """A body of a case by some of its lengths.

    Attributes
    ----------
    case : Case
    entry : int
        Item of `body`, from 0.
    keys : tuple of str
        Dotted, of each length, in the body's table.
    """

    case: Case
    entry: int
    keys: tuple[str, ...]
    _cases: dict[bytes, Case] = field(default_factory=dict, compare=False)

    @property
    def title(self) -> str:
        """What messages call the body."""
        return self.case.own_bodies()[self.entry].name

    def dotted(self, p: Array) -> dict[str, float]:
        """The lengths by their path in the case, m."""
        return {f"body.{self.entry + 1}.{key}": round(float(v), 12) for key, v in zip(self.keys, p, strict=True)}

    def made(self, p: Array) -> Case:
        """The case with these lengths.

        Raises
        ------
        CaseError
            When there can be no such body.
        """
        key = np.asarray(p, float).tobytes()
        if key not in self._cases:
            if len(self._cases) > 64:
                self._cases.clear()
            self._cases[key] = changed_case(self.case, self.dotted(p), materials=built_in_uses())
        return self._cases[key]

    def read(self, case: Case) -> Array:
        """The lengths that a case like this one has."""
        return np.array([_value(case.body[self.entry], key) for key in self.keys], dtype=float)

    def body(self, p: Array) -> SolidBody:
        """The body with these lengths."""
        return self.made(p).own_bodies()[self.entry]

    def turned(self, p: Array, step: float, lean: float = 0.0) -> tuple[Array, Edge]:
        """The lengths in whole steps; no edge for a lathe."""
        return self.whole_steps(p, step, lean), ()

    def volume(self, p: Array, turned: Edge | None = None) -> float:
        """Of the body, m³."""
        from stringflux.geometry.kernel.solids import exact_volume

        return exact_volume(self.body(p).form)

    def depth(self, p: Array, turned: Edge | None = None) -> float:
        """From the highest corner of an edge to its lowest, m; 0 of other forms."""
        return float(np.ptp(p)) if self.name == "edge" else 0.0

    def bends(self, p: Array) -> Array:
        """None that a smallest radius holds for: bodies have corners."""
        return np.zeros(0)


def chosen_body(case: Case, name: str) -> int:
    """Item of `body`, from 0, by its name or its number.

    Raises
    ------
    CaseError
        When it is not plain which.
    """
    names = [b.name for b in case.own_bodies()]
    of_a_pole = name not in names and re.fullmatch(r"pole [1-9][0-9]*", name.strip())
    if not all(row.is_round for row in case.rows()) and (of_a_pole or not names):
        raise CaseError(f"--body: received {shown(name)}, and parts of poles are not shaped where they stand; write "
                        "the part as a [[body]] with the same keys, its centre and its top in the pole's place, and "
                        "name that")
    if not names:
        raise CaseError("--body: the case has no [[body]]; its poles are shaped with --form and --pole")
    if not name:
        raise CaseError(f"--body: it is missing; write which body is shaped, one of {', '.join(map(shown, names))}")
    found = [i for i, own in enumerate(names) if name in (own, str(i + 1))]
    if len(found) != 1:
        raise CaseError(f"--body: received {shown(name)}, which names {len(found) or 'no'} "
                        f"bod{'ies' if found else 'y'}{near(name, names)}; write one of "
                        f"{', '.join(map(shown, names))}, or its number")
    return found[0]


def make_body_form(case: Case, entry: int, name: str, varied: Sequence[VariedLength], deepest: float) -> BodyForm:
    """The form of a body.

    Parameters
    ----------
    name : str
        "edge", or "lengths" for those of `varied`.
    deepest : float
        How far an edge may lie below its highest corner, m.

    Raises
    ------
    CaseError
        When the body has no such lengths, or cannot have all of their range.
    """
    body = case.body[entry]
    if name == "edge":
        if varied:
            raise CaseError("--vary: received together with --form edge, which varies the heights of all corners; "
                            "drop one of them")
        corners = _upper(body)
        top = max(body.outline[i][1] for i in corners)  # type: ignore[union-attr]
        varied = [VariedLength(key=f"outline.{i + 1}.2", low=top - deepest, high=top) for i in corners]
    elif name != "lengths":
        raise CaseError(f"--form: received {shown(name)}, which is no form of a body; write edge, or leave it out, "
                        "and say by --vary what varies")
    if not 1 <= len(varied) <= MOST:
        raise CaseError(f"--vary: received {len(varied)} lengths; write 1 to {MOST}, or --form edge")
    parameters = []
    for one in varied:
        start = _value(body, one.key)
        if start is None:
            raise CaseError(f"--vary: {shown(one.key)} is no length that {shown(case.own_bodies()[entry].name)} has"
                            f"{near(one.key.partition('.')[0], type(body).model_fields)}; write a key that stands in "
                            "the case, such as tip_along or outline.3.2")
        parameters.append(FormLength(name=one.key, low=one.low, high=one.high,
                                     start=min(max(start, one.low), one.high)))
    form = BodyForm(name=name, parameters=tuple(parameters), case=case, entry=entry,
                    keys=tuple(v.key for v in varied))
    _check(form)
    return form


def _check(form: BodyForm) -> None:
    """Refuse ranges whose ends no body can have, that lift it, or that touch a string."""
    before = form.case.own_bodies()[form.entry].form.bounds
    rises = form.case.body[form.entry].bottom is None
    for j, one in enumerate(form.parameters):
        for end in (one.low, one.high):
            p = np.where(np.arange(len(form.parameters)) == j, end, form.start)
            try:
                made = form.made(p)
            except CaseError as error:
                raise CaseError(f"--vary {one.name}: with {mm(end)} there is no such case ({error})") from None
            now = made.own_bodies()[form.entry].form.bounds
            if rises and abs(now[0][2] - before[0][2]) > _MOVED:
                raise CaseError(f"--vary {one.name}: {form.title} hangs from its top, so all of it would move with "
                                f'that; write bottom = "{mm(before[0][2])}" in the case in place of top')
    for string in placed_strings(form.case):
        for p in (form.low, form.high):
            try:
                made = form.made(p)
            except CaseError:
                continue  # all at one end together need not be possible
            face = placed_strings(made)[string.number - 1].face
            if string.gap_over(face) < CLEARANCE:
                raise CaseError(f"--vary: at the end of their ranges {form.title} comes within {mm(CLEARANCE)} of "
                                f"string {string.number}, or touches it; write smaller ranges")


def _upper(body: Body) -> list[int]:
    """Items of `outline` of the upper edge, from its one end to the other."""
    if not isinstance(body, PrismBody | RevolvedBody) or (isinstance(body, PrismBody) and body.lies == "upright") or (
            isinstance(body, RevolvedBody) and body.lies != "upright") or body.rotated:
        raise CaseError("--form edge: it is of a prism that lies, or of a body of revolution that stands upright, "
                        "neither of them rotated; say by --vary which lengths vary")
    u = np.array([p[0] for p in body.outline])
    v = np.array([p[1] for p in body.outline])

    def end(at: float) -> int:
        return int(max(np.flatnonzero(np.isclose(u, at, rtol=0.0, atol=1e-9)), key=lambda i: v[i]))

    first, last, n = end(u.max()), end(u.min()), len(u)
    chains = [[(first + way * k) % n for k in range((way * (last - first)) % n + 1)] for way in (1, -1)]
    return max(chains, key=lambda chain: float(np.mean(v[chain])))


def _value(body: Body, key: str) -> float | None:
    """The number at a dotted key that the file gives, m; None where there is none."""
    if not set(key.split(".")).isdisjoint(_NO_LENGTHS):
        return None
    node: Any = body.model_dump(exclude_unset=True)
    for step in key.split("."):
        if isinstance(node, Mapping) and step in node:
            node = node[step]
        elif isinstance(node, list | tuple) and step.isdigit() and 1 <= int(step) <= len(node):
            node = node[int(step) - 1]
        else:
            return None
    return float(node) if isinstance(node, float) else None
