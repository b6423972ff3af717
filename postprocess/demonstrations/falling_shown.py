"""The demonstration of a magnet that passes a coil: its tables, its moving picture, and all of it together."""

from __future__ import annotations

import numpy as np

from stringflux.geometry.demonstrations.falling import FallingMagnet

from ..falling.passage import Passage
from .falling_slides import slides
from .falling_view import FallingLines, frames, view
from .falling_words import LAW, cautions, moves_words, signs, steps
from .moving import MovingPicture, Slope, Trace, TraceCurve
from .parts import Series, SeriesColumn
from .quantities import best_unit, said
from .record import Demonstration

SECONDS = 9.0


def falling_shown(case: FallingMagnet, found: Passage, lines: FallingLines) -> Demonstration:
    """Everything of the demonstration, from what was found."""
    coil, magnet = case.coil, case.magnet
    title = {True: "A magnet comes to a coil with a core", False: "A magnet falls through a coil"}[
        case.core is not None]
    if case.tube is not None:
        title = f"A magnet sinks in a tube of {case.tube.material}, through a coil"
    elif case.core is None and case.drop.speed is not None:
        title = "A magnet is moved through a coil"
    under = (f"{magnet.material}, {said(magnet.diameter, 'm')} × {said(magnet.length, 'm')}, {moves_words(case)}; "
             f"coil of N = {coil.turns:.0f} turns")
    return Demonstration(
        name="falling-magnet", title=title, under=under, found=found, law=LAW, steps=steps(case, found),
        signs=signs(case, found), cautions=cautions(case, found), series=_series(found),
        slides=slides(case, found, lines, under), moving=_moving(case, found, lines))


def _series(found: Passage) -> tuple[Series, ...]:
    volts, flux, linkage = _units(found)
    others = found.others
    passage = [SeriesColumn(name="time", unit="ms", values=found.t),
               SeriesColumn(name="place z", unit="mm", values=found.z),
               SeriesColumn(name="speed up", unit="m/s", values=found.v),
               SeriesColumn(name="flux per turn", unit=flux, values=found.flux),
               SeriesColumn(name="linkage", unit=linkage, values=found.linkage),
               SeriesColumn(name="emf", unit=volts, values=found.e),
               SeriesColumn(name="emf turned round", unit=volts, values=found.reversed_e)]
    if found.braked is not None:
        passage.append(SeriesColumn(name="brake of the tube", unit="mN", values=-found.braked * found.v))
    place = [SeriesColumn(name="place z", unit="mm", values=found.heights),
             SeriesColumn(name="flux per turn", unit=flux, values=found.linkage_at / found.turns),
             SeriesColumn(name="linkage", unit=linkage, values=found.linkage_at),
             SeriesColumn(name="slope", unit="mV per m/s", values=found.slope_at)]
    if found.bare_at is not None:
        place.append(SeriesColumn(name="flux per turn without core", unit=flux, values=found.bare_at / found.turns))
    peaks = [SeriesColumn(name="start", unit="mm", values=others.starts)]
    for name, of in (("first", others.first), ("second", others.second)):
        peaks += [SeriesColumn(name=f"speed at the {name} peak", unit="m/s", values=np.array([p.speed for p in of])),
                  SeriesColumn(name=f"{name} peak", unit=volts, values=np.array([p.e for p in of]))]
    return (Series(name="passage", columns=tuple(passage)), Series(name="flux", columns=tuple(place)),
            Series(name="peaks", columns=tuple(peaks)))


def _units(found: Passage) -> tuple[str, str, str]:
    """Of e, Φ and λ."""
    return (best_unit(float(np.max(np.abs(found.e))), "V"), best_unit(float(np.max(np.abs(found.flux))), "Wb"),
            best_unit(float(np.max(np.abs(found.linkage))), "Wb"))


def _moving(case: FallingMagnet, found: Passage, lines: FallingLines) -> MovingPicture:
    shown = frames(case, found)
    volts, flux, linkage = _units(found)
    near = np.linspace(float(shown.z.min()), float(shown.z.max()), 161)
    notes = ["The picture is to scale: a plane through the axis. The magnet moves to scale.",
             "Between two lines that follow each other goes the same flux, in the rings that they make about the "
             "axis."]
    if case.core is not None:
        notes.append("The lines are those of the nearest of some places at which magnet and core were solved "
                     "together.")
    if case.tube is not None:
        notes.append("The field of the currents in the tube is too weak to be drawn.")
    return MovingPicture(
        time=shown.time, seconds=SECONDS, views=(view(case, shown.z, lines),), traces=(
            Trace(name="place z", unit="mm", curves=(TraceCurve(name="z", values=shown.z),)),
            Trace(name="Φ per turn", unit=flux, curves=(TraceCurve(name="Φ", values=shown.flux),)),
            Trace(name="λ = N Φ", unit=linkage, curves=(TraceCurve(name="λ", values=shown.linkage),)),
            Trace(name="e = −dλ/dt", unit=volts, areas=True, curves=(TraceCurve(name="e", values=shown.e),))),
        slope=Slope(name="λ", unit=linkage, x_name="z", x_unit="mm", x=near, y=found.at(near), at_x=shown.z,
                    at_y=shown.linkage, tangent=found.slope(shown.z)),
        notes=tuple(notes))
