"""The pickup of a case to scale: section along the row, view from the strings, section through pole 1."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Circle, Patch, Polygon, Rectangle

from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import PlacedString, placed_strings
from stringflux.geometry.case.upper_ends import UpperEnd, upper_ends
from stringflux.geometry.notes import pitch_words
from stringflux.geometry.shapes.row import PlacedPole, Racetrack

from ..figures.style import ACCENT, INK, SOFT, heading, new_figure
from . import dimensions as dim

_LEFT, _RIGHT = (6.4, 0.1), (0.155, 5.4)  # inches and inches per mm: widest row, its scale; scale, height


@dataclass(frozen=True, kw_only=True)
class Parts:
    """What is drawn, and the levels of the drawing in mm."""

    poles: tuple[PlacedPole, ...]
    strings: tuple[PlacedString, ...]
    coil: Racetrack
    ends: tuple[UpperEnd, ...]

    @property
    def looks(self) -> dict[str, tuple[str, str]]:
        """Colour and hatch of every material: magnets warm, soft parts cool."""
        kinds = {part.material: part.polarity != 0 for p in self.poles for part in p.shape.parts}
        warm, cool = iter(dim.MAGNETS * 4), iter(dim.STEELS * 4)
        return {name: next(warm if magnet else cool) for name, magnet in kinds.items()}

    @property
    def bottom(self) -> float:
        """Lowest point of poles and coil."""
        return 1e3 * min(self.coil.bottom, *(p.face + p.shape.bottom for p in self.poles), 0.0)

    @property
    def top(self) -> float:
        """Highest point of the strings."""
        return 1e3 * max(s.shape.axis_height + s.shape.outer_radius for s in self.strings)

    @property
    def outer(self) -> float:
        """Half the width of everything along the strings."""
        widest = max(p.shape.radius for p in self.poles)
        return 1e3 * max(self.coil.inner_radius + self.coil.build, widest)

    @property
    def row(self) -> tuple[float, float]:
        """Ends of everything across the strings."""
        half = self.coil.straight / 2 + self.coil.inner_radius + self.coil.build
        places = [*(p.y - p.shape.radius for p in self.poles), *(s.y - s.shape.outer_radius for s in self.strings)]
        ends = [*(p.y + p.shape.radius for p in self.poles), *(s.y + s.shape.outer_radius for s in self.strings)]
        return 1e3 * min(self.coil.y_centre - half, *places), 1e3 * max(self.coil.y_centre + half, *ends)


def drawing_figure(case: Case) -> Figure:
    """Draw a case; nothing is solved."""
    parts = Parts(poles=case.placed_poles(), strings=placed_strings(case), coil=case.racetrack(),
                  ends=upper_ends(case))
    left, right = parts.row
    scale = min(_LEFT[1], (_LEFT[0] - 1.6) / (right - left))  # inches per mm
    big = min(_RIGHT[0], _RIGHT[1] / (parts.top - parts.bottom), 2.2 / (2 * parts.outer))
    room = 0.95 / scale  # for heads of rows and for dimensions
    row_view = (left - room, right + 0.65 / scale, parts.bottom - 0.75 / scale, parts.top + 0.72 / scale)
    top_view = (*row_view[:2], -parts.outer - 0.75 / scale, parts.outer + 0.22 / scale)
    pole_view = (-parts.outer - 0.85 / big, parts.outer + 1.35 / big, parts.bottom - 0.6 / big,
                 parts.top + 0.72 / big)
    stack = (_high(row_view) + _high(top_view)) * scale + 0.5
    body = max(stack, _high(pole_view) * big)
    width = 0.3 + (_wide(row_view) * scale) + (_wide(pole_view) * big)
    fig = new_figure(max(width, 7.0), body + 1.55, constrained=False)
    shift = (max(width, 7.0) - width) / 2
    head = body + 0.65  # height of the upper edge of the views, inches
    row = _view(fig, row_view, scale, (shift + 0.1, head))
    above = _view(fig, top_view, scale, (shift + 0.1, head - _high(row_view) * scale - 0.45))
    pole = _view(fig, pole_view, big, (shift + 0.2 + _wide(row_view) * scale, head))
    _row_section(row, case, parts, scale)
    _from_above(above, parts, scale)
    _pole_section(pole, case, parts, big)
    for ax, text in ((row, "Section along the row"), (above, "Seen from the strings"),
                     (pole, "Section through pole 1")):
        ax.set_title(text)
    _key(fig, case, parts)
    heading(fig, case.title or "Drawing to scale", "lengths in mm; heights count from the bobbin's top plate, z = 0")
    return fig


def _wide(view: tuple[float, ...]) -> float:
    return view[1] - view[0]


def _high(view: tuple[float, ...]) -> float:
    return view[3] - view[2]


def _view(fig: Figure, view: tuple[float, ...], scale: float, corner: tuple[float, float]) -> Axes:
    """Axes without a frame whose mm are `scale` inches, upper left corner at `corner` inches."""
    w, h = fig.get_size_inches()
    wide, high = _wide(view) * scale, _high(view) * scale
    ax = fig.add_axes((corner[0] / w, (corner[1] - high) / h, wide / w, high / h))
    ax.set(xlim=view[:2], ylim=view[2:])
    ax.set_axis_off()
    return ax


def _row_section(ax: Axes, case: Case, parts: Parts, scale: float) -> None:
    inch = 1 / scale  # mm per inch on paper
    coil = parts.coil
    left, right = parts.row
    half = 1e3 * (coil.straight / 2 + coil.inner_radius)
    for side in (-1, 1):
        dim.winding(ax, coil, 1e3 * coil.y_centre + side * half, side)
    for p in parts.poles:
        dim.pole_section(ax, p.shape, 1e3 * p.y, 1e3 * p.face, parts.looks)
    for s in (string.shape for string in parts.strings):
        dim.string_section(ax, s)
    ax.plot([left - 0.1 * inch, right + 0.1 * inch], [0, 0], color=SOFT, lw=0.7, ls=(0, (8, 2, 1.5, 2)), zorder=1)
    ax.text(right + 0.12 * inch, 0, "z = 0", fontsize=7.5, color=SOFT, va="center")
    gaps = [1e3 * s.gap for s in parts.strings]
    names = [pitch_words(s.pitch) for s in parts.strings]
    places = [1e3 * s.y for s in parts.strings]
    top, step = parts.top + 0.14 * inch, 0.155 * inch
    _line_of_text(ax, left, top + 2 * step, "string", places, [f"{i + 1}" for i in range(len(places))], inch, True)
    _line_of_text(ax, left, top + step, "note", places, names, inch)
    _line_of_text(ax, left, top, "gap", places, [dim.text_mm(round(g, 2)) for g in gaps], inch)
    low = parts.bottom - 0.16 * inch
    places = [1e3 * p.y for p in parts.poles]
    _line_of_text(ax, left, low, "pole", places, [f"{i + 1}" for i in range(len(places))], inch, True)
    _line_of_text(ax, left, low - step, "face", places, [dim.text_mm(1e3 * p.face) for p in parts.poles], inch)
    if len(places) > 1:
        at = low - 2.4 * step
        dim.across(ax, places[0], places[1], at, low - 1.4 * step)
    dim.scale_bar(ax, (right - 10, low - 2.1 * step), 10)


def _line_of_text(ax: Axes, left: float, z: float, head: str, places: list[float], texts: list[str], inch: float,
                  strong: bool = False) -> None:
    start = min(left, *(p - 0.3 * inch for p in places)) - 0.12 * inch
    ax.text(start, z, head, fontsize=7.5, color=SOFT, ha="right", va="center")
    for y, text in zip(places, texts, strict=True):
        ax.text(y, z, text, fontsize=7.5, ha="center", va="center", fontweight="bold" if strong else "normal")


def _from_above(ax: Axes, parts: Parts, scale: float) -> None:
    inch = 1 / scale
    coil = parts.coil
    straight, centre = 1e3 * coil.straight, 1e3 * coil.y_centre
    inner, outer = 1e3 * coil.inner_radius, 1e3 * (coil.inner_radius + coil.build)
    for radius, colour in ((outer, dim.COPPER), (inner, "white")):
        ax.add_patch(Polygon(dim.stadium(radius, straight, centre), fc=colour, ec=INK, lw=0.9, zorder=2))
    for p in parts.poles:
        for i, part in reversed(list(enumerate(p.shape.parts))):
            hidden = i > 0
            ax.add_patch(Circle((1e3 * p.y, 0), 1e3 * part.radius, zorder=3, lw=0.8, ec=INK,
                                ls=(0, (3, 2)) if hidden else "solid",
                                fc="none" if hidden else parts.looks[part.material][0]))
    for pole in parts.ends:
        dim.end_letter(ax, 1e3 * pole.y, -0.6e3 * pole.radius, pole.letter)
    reach = parts.outer + 0.12 * inch
    for s in (string.shape for string in parts.strings):
        for radius, colour in ((s.outer_radius, dim.WRAP), (s.core_radius, INK)):
            if radius == s.core_radius and s.wrap_diameter:
                continue  # seen from above a wound string shows its wrap only
            ax.add_patch(Rectangle((1e3 * (s.y - radius), -reach), 2e3 * radius, 2 * reach, fc=colour,
                                   ec=INK, lw=0.3, zorder=5))
    end = straight / 2 + outer
    dim.across(ax, centre - end, centre + end, -outer - 0.5 * inch, -outer)
    dim.upright(ax, -outer, outer, parts.row[1] + 0.2 * inch, centre + straight / 2)
    dim.upright(ax, -inner, inner, parts.row[0] - 0.2 * inch, centre - straight / 2)
    if len(parts.strings) > 1:
        a, b = (1e3 * s.y for s in parts.strings[:2])
        dim.across(ax, a, b, -outer - 0.25 * inch, -reach, size=7.5)


def _pole_section(ax: Axes, case: Case, parts: Parts, scale: float) -> None:
    inch = 1 / scale
    coil, place = parts.coil, parts.poles[0]
    face = 1e3 * place.face
    inner, outer = 1e3 * coil.inner_radius, 1e3 * (coil.inner_radius + coil.build)
    low, high = 1e3 * coil.bottom, 1e3 * coil.top
    dim.winding(ax, coil, inner, 1)
    dim.winding(ax, coil, -inner, -1)
    dim.pole_section(ax, place.shape, 0.0, face, parts.looks)
    first = place.shape.parts[0]
    wide = 0.25 * inch + parts.outer
    far = parts.outer + 0.38 * inch
    ax.plot([-far, wide], [0, 0], color=SOFT, lw=0.7, ls=(0, (8, 2, 1.5, 2)), zorder=1)
    ax.text(-far - 0.04 * inch, 0, "z = 0", fontsize=7.5, color=SOFT, va="center", ha="right")
    for i, part in enumerate(place.shape.parts):
        dim.upright(ax, face + 1e3 * part.bottom, face + 1e3 * part.top, parts.outer + 0.75 * inch, 1e3 * part.radius)
        if part.radius != first.radius and i == len(place.shape.parts) - 1:
            dim.across(ax, -1e3 * part.radius, 1e3 * part.radius, parts.bottom - 0.2 * inch,
                       face + 1e3 * part.bottom, f"∅ {dim.text_mm(2e3 * part.radius)}")
    dim.upright(ax, low, high, outer + 0.3 * inch, outer)
    over = parts.top + 0.3 * inch
    dim.across(ax, -1e3 * first.radius, 1e3 * first.radius, over, face, f"∅ {dim.text_mm(2e3 * first.radius)}")
    dim.across(ax, inner, inner + 1e3 * coil.build_at(coil.bottom), low - 0.2 * inch, low)
    if abs(high) * scale > 0.1:
        dim.upright(ax, min(0.0, high), max(0.0, high), outer + 0.3 * inch, outer)
    if abs(face) > 0.05:
        dim.upright(ax, 0, face, -parts.outer - 0.05 * inch, -1e3 * first.radius)
    mine = [s for s in parts.strings if s.pole == 1]
    for string in mine:
        s = string.shape
        x = np.array([-wide, wide])
        middle = 1e3 * s.axis_height + s.slope * x
        for radius, colour in ((s.outer_radius, dim.WRAP), (s.core_radius, INK)):
            ax.fill_between(x, middle - 1e3 * radius, middle + 1e3 * radius, color=colour, lw=0, zorder=5)
        ax.text(wide + 0.05 * inch, middle[1], f"string {string.number}\n∅ {dim.text_mm(2e3 * s.outer_radius)}",
                fontsize=8, va="center", zorder=8)
    if mine:
        under = 1e3 * mine[0].underside
        dim.upright(ax, face, under, -parts.outer - 0.05 * inch, -1e3 * first.radius)
    dim.scale_bar(ax, (parts.outer + 0.5 * inch, parts.bottom - 0.35 * inch), 5)


def _key(fig: Figure, case: Case, parts: Parts) -> None:
    magnets = {part.material for p in parts.poles for part in p.shape.parts if part.polarity}
    handles: list[Artist] = [
        Patch(fc=colour, hatch=hatch, ec=dim.HATCHED, label=f"{name} ({'magnet' if name in magnets else 'soft'})")
        for name, (colour, hatch) in parts.looks.items()
    ]
    handles.append(Patch(fc=dim.COPPER, ec=INK, label=f"coil, {case.coil.turns:g} turns of {case.coil.wire}"
                         f"{dim.thickness(parts.coil)}"))
    if magnets:
        handles.append(Line2D([], [], color=ACCENT, lw=1.5, marker=">", ms=5, label="from south to north pole"))
    height = fig.get_size_inches()[1]
    fig.legend(handles=handles, loc="lower center", bbox_to_anchor=(0.5, 0.1 / height), handlelength=1.8,
               ncols=2 if len(handles) < 5 else 3, borderaxespad=0.0)
