"""Forms a tip can take in a search: their parameters, the body they make, what they write into the case.

A form turns a few lengths p into a :class:`PoleShape` of always the same corners, so that one mesh can follow it.
Only the first part of the pole takes the tip; a cap is a soft part on top of a magnet.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.keys import near
from stringflux.geometry.case.poles import FlatTip, Part, Pole
from stringflux.geometry.errors import CaseError
from stringflux.geometry.shapes import profiles
from stringflux.geometry.shapes.row import PoleShape
from stringflux.geometry.units import mm, shown

from .profile import MOST_CONTROLS, ProfileCurve

Write = Callable[[Array, profiles.Edge, Sequence[Mapping[str, Any]]], list[dict[str, Any]]]
THINNEST = 0.3e-3  # of a part in a case, m
_SAME = 1e-9


@dataclass(frozen=True, kw_only=True)
class FormLength:
    """One length of a form: its name, bounds and start, m."""

    name: str
    low: float
    high: float
    start: float


@dataclass(frozen=True, kw_only=True)
class Lengths:
    """A family of shapes by its lengths.

    Attributes
    ----------
    name : str
    parameters : tuple of FormLength
    curve : ProfileCurve, optional
        Of a free profile.
    """

    name: str
    parameters: tuple[FormLength, ...]
    curve: ProfileCurve | None = None

    @property
    def low(self) -> Array:
        return np.array([q.low for q in self.parameters])

    @property
    def high(self) -> Array:
        return np.array([q.high for q in self.parameters])

    @property
    def start(self) -> Array:
        return np.array([q.start for q in self.parameters])

    def whole_steps(self, p: Array, step: float, lean: float = 0.0) -> Array:
        """The lengths in whole steps within their bounds; `lean` is added before rounding, in steps."""
        low, high = np.ceil(self.low / step), np.floor(self.high / step)
        return np.asarray(np.clip(np.round(p / step + 0.98 * lean), low, high) * step)


@dataclass(frozen=True, kw_only=True)
class Form(Lengths):
    """A family of poles.

    Attributes
    ----------
    build : callable
        p (n,) in m to the edge of the tip, with its highest point at or below 0, and the parts under it.
    write : callable
        p and the edge to the parts as the case file writes them, given the parts as they are in the file.
    """

    build: Callable[[Array], tuple[profiles.Edge, tuple[Part, ...]]]
    write: Write

    def edge(self, p: Array) -> profiles.Edge:
        """Upper edge of the pole."""
        return self.build(p)[0]

    def turned(self, p: Array, step: float, lean: float = 0.0) -> tuple[Array, profiles.Edge]:
        """The lengths and the edge that a lathe with dials of `step` makes, its highest point at 0.

        `lean` is added before rounding, in steps.
        """
        if self.curve is not None:
            return p, self.curve.turned(p, step, lean)
        whole = self.whole_steps(p, step, lean)
        return whole, self.edge(whole)

    def volume(self, p: Array, turned: profiles.Edge | None = None) -> float:
        """Volume of all parts, m³."""
        return pole_volume(self.shape(p, turned))

    def depth(self, p: Array, turned: profiles.Edge | None = None) -> float:
        """From the highest point of the tip to its lowest, m."""
        if turned is None and self.curve is not None:
            return float(np.ptp(self.curve.between(p)))
        return float(np.ptp(np.array(turned or self.edge(p))[:, 1]))

    def bends(self, p: Array) -> Array:
        """Curvatures, 1/m."""
        if self.curve is not None:
            return self.curve.curvature(p)
        if self.name in ("dome", "cup"):
            rim, s = self.edge(p)[-1][0], float(p[0])
            return np.array([2 * s / (rim**2 + s**2)])
        return np.zeros(0)

    def shape(self, p: Array, turned: profiles.Edge | None = None) -> PoleShape:
        """The pole with the tip's edge where it is, or as `turned`; the face of the case's pole is z = 0."""
        edge, parts = self.build(p)
        edge = turned or edge
        top, shapes = 0.0, []
        for i, part in enumerate(parts):
            body = part.part_shape(top)
            if i == 0:
                body = replace(body, outline=_exact(edge, part.length))
            shapes.append(body)
            top -= part.length
        return PoleShape(parts=tuple(shapes))


def pole_volume(shape: PoleShape) -> float:
    """Volume of all parts, m³."""
    return float(sum(profiles.volume(part.outline) for part in shape.parts))


def _exact(edge: profiles.Edge, length: float) -> tuple[profiles.Point, ...]:
    # not rounded as those of a case are: differences of shapes a nanometre apart are taken
    rim = edge[-1][0]
    return ((0.0, -length), (rim, -length), *reversed(edge))


FORMS = ("profile", "bevel", "dome", "cup", "diameter", "length", "cap")


def make_form(name: str, pole: Pole, *, controls: int, deepest: float, widest: float,
              soft: Callable[[str], bool], cap: str) -> Form:
    """The form of a name for a pole.

    Parameters
    ----------
    controls : int
        Control points of a profile.
    deepest : float
        How far a tip may be cut below its highest point, m.
    widest : float
        Diameter that coil and neighbours leave, m.
    soft : callable
        Whether a material is soft, by its name.
    cap : str
        Material of a cap where the pole has none.

    Raises
    ------
    CaseError
        When there is no such form, or this pole cannot take it.
    """
    top = pole.round_parts[0]
    radius = top.diameter / 2
    most = min(deepest, 0.8 * top.length)
    if name == "profile":
        if not 3 <= controls <= MOST_CONTROLS:
            raise CaseError(f"--points: received {controls}; write 3 to {MOST_CONTROLS} control points")
        return _profile(pole, ProfileCurve(radius=radius, count=controls), most)
    if name == "bevel":
        tip = top.tip if top.tip.shape == "bevelled" else None
        width = FormLength(name="bevel width", low=0.03e-3, high=radius - 0.1e-3, start=tip.width if tip else 0.4e-3)
        depth = FormLength(name="bevel depth", low=0.03e-3, high=most, start=tip.depth if tip else min(0.4e-3, most))
        return _tipped(pole, name, (depth, width), lambda p: profiles.bevelled(radius, depth=p[0], width=p[1]),
                       lambda p: {"shape": "bevelled", "depth": mm(p[0]), "width": mm(p[1])})
    if name in ("dome", "cup"):
        size = FormLength(name={"dome": "rise of the dome", "cup": "depth of the cup"}[name], low=0.02e-3,
                          high=min(radius, most), start=min(0.3e-3, most))
        make, key = (profiles.domed, "rise") if name == "dome" else (profiles.cupped, "depth")
        return _tipped(pole, name, (size,), lambda p: make(radius, **{key: float(p[0])}),
                       lambda p: {"shape": "domed" if name == "dome" else "cupped", key: mm(p[0])})
    if name == "diameter":
        wide = FormLength(name="diameter", low=max(0.5 * top.diameter, 1e-3), high=widest, start=top.diameter)
        return _sized(pole, name, wide)
    if name == "length":
        longest = max(part.length for part in pole.round_parts)
        return _sized(pole, name, FormLength(name="length", low=0.5 * longest, high=1.4 * longest, start=longest))
    if name == "cap":
        return _capped(pole, soft, cap)
    raise CaseError(f"--form: received {shown(name)}, which is no form of a pole{near(name, FORMS)}; "
                    f"write one of {', '.join(FORMS)}")


def _profile(pole: Pole, curve: ProfileCurve, deepest: float) -> Form:
    start = np.clip(curve.fitted(pole.round_parts[0].tip.edge(curve.radius)), -deepest, 0.0)
    parameters = tuple(FormLength(name=f"height at {mm(round(r, 6))}", low=-deepest, high=0.0, start=float(z))
                       for r, z in zip(curve.controls, start, strict=True))

    return Form(name="profile", parameters=parameters, build=lambda p: (curve.edge(p), pole.round_parts), curve=curve,
                write=lambda p, edge, raw: [{**raw[0], "tip": polyline_tip(edge)}, *map(dict, raw[1:])])


def polyline_tip(edge: profiles.Edge) -> dict[str, Any]:
    """A tip as the case file writes it."""
    return {"shape": "polyline", "points": [[mm(round(r, 9)), mm(round(z, 9) + 0.0)] for r, z in edge]}


def _tipped(pole: Pole, name: str, parameters: tuple[FormLength, ...], edge: Callable[[Array], profiles.Edge],
            tip: Callable[[Array], dict[str, Any]]) -> Form:
    return Form(name=name, parameters=parameters, build=lambda p: (edge(p), pole.round_parts),
                write=lambda p, edge, raw: [{**raw[0], "tip": tip(p)}, *map(dict, raw[1:])])


def _sized(pole: Pole, key: str, parameter: FormLength) -> Form:
    """The diameter of all parts as wide as the first, or the length of the longest one."""
    if key == "diameter":
        widest = pole.round_parts[0].diameter
        which = [i for i, part in enumerate(pole.round_parts) if abs(part.diameter - widest) < _SAME]
    else:
        which = [max(range(len(pole.round_parts)), key=lambda i: pole.round_parts[i].length)]
    old = pole.round_parts[0].tip.edge(pole.round_parts[0].diameter / 2)

    def build(p: Array) -> tuple[profiles.Edge, tuple[Part, ...]]:
        parts = tuple(part.model_copy(update={key: float(p[0])}) if i in which else part
                      for i, part in enumerate(pole.round_parts))
        radius = parts[0].diameter / 2
        # a profile of points is as wide as the part was: it is stretched with it
        edge = (tuple((r * radius / old[-1][0], z) for r, z in old) if parts[0].tip.shape == "polyline"
                else parts[0].tip.edge(radius))
        return edge, parts

    def write(p: Array, edge: profiles.Edge, raw: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
        parts = [{**part, key: mm(p[0])} if i in which else dict(part) for i, part in enumerate(raw)]
        if key == "diameter" and pole.round_parts[0].tip.shape == "polyline":
            parts[0]["tip"] = polyline_tip(edge)
        return parts

    return Form(name=key, parameters=(parameter,), build=build, write=write)


def _capped(pole: Pole, soft: Callable[[str], bool], material: str) -> Form:
    """A soft part on a magnet; together they keep their length."""
    first = pole.round_parts[0]
    if soft(first.material):
        if len(pole.round_parts) < 2 or soft(pole.round_parts[1].material):
            raise CaseError(f"--form cap: the pole is {shown(first.material)} without a magnet right under it; "
                            "a cap is of soft steel on a magnet")
        start, magnet, rest, added = first.length, pole.round_parts[1], pole.round_parts[2:], False
        cap = first
    else:
        if not soft(material):
            raise CaseError(f"--cap: received {shown(material)}, which is no soft steel; write one, such as "
                            '"steel-1008"')
        start, magnet, rest, added = 1e-3, first, pole.round_parts[1:], True
        cap = first.model_copy(update={"material": material, "polarity": None, "charge": 1.0,
                                       "coercivity_scale": 1.0, "length": start})
        magnet = first.model_copy(update={"tip": FlatTip(shape="flat")})
    total = magnet.length if added else cap.length + magnet.length
    deep = -min(z for _, z in cap.tip.edge(cap.diameter / 2))
    low = max(THINNEST, deep + 0.1e-3)
    parameter = FormLength(name="thickness of the cap", low=low, high=0.6 * total, start=max(start, low))

    def build(p: Array) -> tuple[profiles.Edge, tuple[Part, ...]]:
        thick = float(p[0])
        parts = (cap.model_copy(update={"length": thick}), magnet.model_copy(update={"length": total - thick}), *rest)
        return cap.tip.edge(cap.diameter / 2), parts

    def write(p: Array, edge: profiles.Edge, raw: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
        if added:
            body = {k: v for k, v in raw[0].items() if k != "tip"}
            upper = {k: v for k, v in raw[0].items() if k in ("diameter", "tip")}
            upper |= {"material": material, "length": mm(p[0])}
            return [upper, {**body, "length": mm(total - p[0])}, *map(dict, raw[1:])]
        return [{**raw[0], "length": mm(p[0])}, {**raw[1], "length": mm(total - p[0])}, *map(dict, raw[2:])]

    return Form(name="cap", parameters=(parameter,), build=build, write=write)

