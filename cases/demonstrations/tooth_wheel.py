"""The demonstration "tooth-wheel": a toothed wheel that turns past a bar magnet with a coil.

It has a case of its own (:mod:`stringflux.geometry.demonstrations.wheel`), shipped as `tooth-wheel.toml`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from stringflux.geometry.demonstrations.wheel import ToothWheel, read_wheel
from stringflux.geometry.mesh.wheel import SLIDING
from stringflux.postprocess.demonstrations.record import Demonstration
from stringflux.postprocess.demonstrations.wheel_shown import wheel_shown
from stringflux.postprocess.demonstrations.wheel_view import wheel_window
from stringflux.postprocess.wheel.lines import wheel_lines
from stringflux.postprocess.wheel.turning import ToothLinkage, TurnedWheel, WheelSpeed, face_share, skin_depth
from stringflux.solver.materials.constant import ConstantPermeability
from stringflux.solver.materials.soft import SoftCurve
from stringflux.solver.wheel.solve import SolvedWheel

from ..jobs.second_process import beside
from ..jobs.tooth_wheel import other_gaps, solved_gap, tooth_linkage, wheel_materials
from ..output.document import CaseSource
from ..pickup_fields import Progress, nobody
from .own_case import read_own

SHOWN_TEETH, SHOWN = 3, 24
"""Teeth in the moving picture, and samples of each."""


def read(which: str, changes: Mapping[str, Any]) -> tuple[ToothWheel, CaseSource]:
    """The case, and where it came from.

    Parameters
    ----------
    which : str
        A file, or "tooth-wheel" for the shipped one.

    Raises
    ------
    CaseError
        If there is no such case, or it says something that cannot be; one sentence.
    """
    return read_own(which, changes, shipped=("tooth-wheel",), table="wheel", read=read_wheel)


def demonstrate(case: ToothWheel, quality: str, progress: Progress = nobody) -> Demonstration:
    """The wheel, drawn and told.

    Raises
    ------
    SolveError
        When Newton's method does not settle.
    """
    found, solved = turned(case, quality, progress)
    progress("lines of the field", 0.8)
    build = case.build()
    return wheel_shown(found, build, wheel_lines(solved, wheel_window(build)))


def turned(case: ToothWheel, quality: str, progress: Progress = nobody) -> tuple[TurnedWheel, SolvedWheel]:
    """What is found of a wheel, and the fields at the case's own gap."""
    others = tuple(g for g in case.compared() if g != case.gap)
    with beside(other_gaps, case, others[:-1]) as compared:  # the last one here, so that both are done at once
        progress("positions of the wheel", 0.1)
        solved = solved_gap(case, case.gap, SLIDING[quality])
        own = tooth_linkage(solved)
        progress("other gaps", 0.5)
        last = other_gaps(case, others[-1:])
        gaps = tuple(sorted((own, *last, *compared()), key=lambda one: one.gap))
    wheel, coil = case.wheel.shape(), case.coil.sides()
    steel = wheel_materials(case)[case.wheel.steel]
    assert isinstance(steel, SoftCurve | ConstantPermeability)  # read_wheel has looked
    speeds = tuple(_speed(case, own, t / 60, steel.resistivity, steel.mu_reversible) for t in case.turning.speeds)
    time = np.arange(SHOWN_TEETH * SHOWN + 1) / (SHOWN * speeds[0].frequency)
    angle = 2 * np.pi * speeds[0].speed * time
    bar = case.sensor.pole_piece or case.sensor
    return TurnedWheel(
        title=case.title, teeth=wheel.teeth, turns=abs(coil.turns), sense=1 if coil.turns > 0 else -1,
        north=1 if case.sensor.towards_wheel == "north" else -1, length=case.length, radius=wheel.radius,
        pitch=wheel.pitch, tooth=wheel.top * wheel.pitch, alone=solved.linkage_alone, own=own, gaps=gaps,
        speeds=speeds, ends=face_share(bar.width, case.length, case.gap), time=time, angle=angle,
        linkage=own.at(angle), emf=own.emf(time, speeds[0].speed)), solved


def _speed(case: ToothWheel, own: ToothLinkage, speed: float, resistivity: float, mu: float) -> WheelSpeed:
    frequency = speed * case.wheel.teeth
    return WheelSpeed(speed=speed, frequency=frequency, way=2 * np.pi * case.wheel.radius * speed,
                      peak=2 * np.pi * speed * own.steepest, skin=skin_depth(frequency, resistivity, mu))
