"""What a shape can be changed for, and how each goal is got from a solved row.

The search for output goes by S on the curve of the string's steel, without its memory: that one has a gradient, and
the order in which it puts tips is that of S with memory, but for tips that differ by less than 0.5 %
(tests/cases/studies/shape/test_goals.py). It goes by each string alone over the pickup, too. What is told of a design
is S with memory, the strings beside each counted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.keys import near
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import PlacedString, placed_strings
from stringflux.geometry.errors import CaseError
from stringflux.geometry.shapes.profiles import volume
from stringflux.geometry.units import shown
from stringflux.postprocess.string.heard import heard_pull, heard_slopes
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.linkage import rest_model
from stringflux.postprocess.string.neighbours import StringsTogether
from stringflux.postprocess.string.numerics import SHIPPED, StringNumerics
from stringflux.solver.materials import Materials
from stringflux.solver.row.solve import SolvedRow
from stringflux.solver.seam import StringField


@dataclass(frozen=True, kw_only=True)
class Goal:
    """One goal.

    Attributes
    ----------
    title : str
        In a sentence or over a column.
    unit : str
        SI.
    shown : str
        Unit in tables.
    size : float
        Of the shown unit, in SI.
    sign : float
        +1 where less is better, −1 where more is.
    adjoint : str
        Its name where its slope comes from the adjoint; "" where from differences.
    """

    title: str
    unit: str
    shown: str
    size: float
    sign: float
    adjoint: str = ""


GOALS = {
    "output": Goal(title="output S", unit="V*s/m", shown="mV per m/s", size=1e-3, sign=-1.0, adjoint="sensitivity"),
    "aperture": Goal(title="aperture", unit="m", shown="mm", size=1e-3, sign=1.0),
    "pull": Goal(title="pull", unit="cent", shown="cent", size=1.0, sign=1.0),
    "inductance": Goal(title="inductance", unit="H", shown="H", size=1.0, sign=1.0, adjoint="inductance"),
    "magnet": Goal(title="magnet volume", unit="m^3", shown="mm³", size=1e-9, sign=1.0),
    "unevenness": Goal(title="unevenness of the strings", unit="dB", shown="dB", size=1.0, sign=1.0),
}
"""output: mean |S| of the strings over the changed poles. aperture: mean width, as
:mod:`stringflux.postprocess.string.aperture_width` defines it. pull: mean shift of their fundamentals swinging up and
down. magnet: volume of the magnets of one changed pole, or of the body that changes. unevenness: rms distance of the
strings' levels at equal pluck force from their mean, of bodies under several strings alone."""



def changed(name: str, before: float, after: float) -> float:
    """How much a goal changed, relative; in dB where it is dB, which may come to nothing."""
    return after - before if GOALS[name].unit == "dB" else after / before - 1


def shown_change(name: str, change: float, places: int = 2) -> str:
    """What :func:`changed` gives, in words: "+0.3 %", "-1.2 dB"."""
    return f"{change:+.{places}g} dB" if GOALS[name].unit == "dB" else f"{100 * change:+.{places}g} %"


OF_STRINGS = {"output", "aperture", "pull", "unevenness"}
"""Goals that strings have."""

BY_CURVE = OF_STRINGS - {"unevenness"}
"""Those that a search knows on the static curve of the strings' steel alone, each string alone over the pickup."""

ROW_GOALS = tuple(name for name in GOALS if name != "unevenness")
"""What poles of a row can be changed for: those that change together stay alike."""


def read_goals(text: str) -> tuple[str, ...]:
    """Names of one goal or two, as the option gives them: "output" or "output,inductance"."""
    names = tuple(part.strip() for part in text.split(","))
    try:
        check_goals(names)
    except CaseError as error:
        raise CaseError(f"--for{str(error).removeprefix('goals')}") from None
    return names


def check_goals(names: Sequence[str]) -> None:
    """Refuse what are not one or two goals."""
    for name in names:
        if name not in GOALS:
            raise CaseError(f"goals: received {shown(name)}, which is no goal{near(name, GOALS)}; "
                            f"write one or two of {', '.join(GOALS)}")
    if not 1 <= len(names) <= 2 or len(set(names)) < len(names):
        raise CaseError(f"goals: received {shown(','.join(names))}; write one goal, or two different "
                        "ones with a comma between")


def figures_of(row: SolvedRow, case: Case, materials: Materials, poles: Sequence[int],
               names: Sequence[str], numerics: StringNumerics = SHIPPED, *,
               curve: bool = False) -> dict[str, float]:
    """The named goals of a row whose `poles` (numbers from 1) are changed, SI.

    The strings are the case's own, where they are; with `curve` their steel has no memory and each is
    alone over the row, as in a search.
    """
    over = strings_over(case, poles) if set(names) & OF_STRINGS else []
    among = StringsTogether(row.field, [s.shape for s in placed_strings(case)], materials, numerics)
    fields = [row.field if curve else among.over(s.number) for s in over]
    values = of_strings(fields, over, case, materials, names, numerics, curve=curve)
    if "inductance" in names:
        values["inductance"] = abs(row.inductance)
    if "magnet" in names:
        parts = row.places[poles[0] - 1].shape.parts
        values["magnet"] = float(sum(volume(part.outline) for part in parts if part.polarity))
    return values


def of_strings(fields: Sequence[StringField], over: Sequence[PlacedString], case: Case, materials: Materials,
               names: Sequence[str], numerics: StringNumerics = SHIPPED, *, curve: bool = False) -> dict[str, float]:
    """The named goals of :data:`OF_STRINGS`, SI, of strings where they are, each in its field; `curve`: their steel
    has no memory."""
    from stringflux.postprocess.string.aperture import aperture
    from stringflux.postprocess.string.aperture_width import aperture_width

    from ...jobs.plucked import bridge_distance, vibration_of

    wanted = OF_STRINGS & set(names)
    found: dict[str, list[float]] = {name: [] for name in OF_STRINGS}
    for field, string in zip(fields, over, strict=True) if wanted else ():
        shape, layers = string.shape, layers_of(string.shape, materials)
        shape = replace(shape, state="curve") if curve else shape
        if wanted & {"output", "unevenness"}:
            found["output"].append(abs(heard_slopes(field, shape, layers, numerics).z))
        if "aperture" in wanted:
            found["aperture"].append(aperture_width(aperture(rest_model(field, shape, layers, numerics))))
        if "pull" in wanted:
            vibration = vibration_of(string, bridge_distance(case))
            pull = heard_pull(field, shape, layers, numerics)
            found["pull"].append(abs(float(1200 * np.log2(1 + vibration.shift(pull.stiffness_z)))))
    values = {name: float(np.mean(found[name])) for name in ("output", "aperture", "pull") if name in wanted}
    return values | ({"unevenness": unevenness(np.array(found["output"]), over)} if "unevenness" in wanted else {})


def levels(slopes: Array, strings: Sequence[PlacedString]) -> Array:
    """Levels (strings,) at equal pluck force, from their mean, dB: of S f L / T, as
    :mod:`stringflux.postprocess.records.balance` derives."""
    level = 20 * np.log10(slopes * [s.pitch * s.scale / s.tension for s in strings])
    return np.asarray(level - level.mean())


def unevenness(slopes: Array, strings: Sequence[PlacedString]) -> float:
    """Rms distance of the levels from their mean, dB."""
    return float(np.sqrt(np.mean(levels(slopes, strings) ** 2)))


def strings_over(case: Case, poles: Sequence[int]) -> list[PlacedString]:
    """The strings whose nearest pole is one of `poles`."""
    over = [s for s in placed_strings(case) if s.pole in poles]
    if not over:
        raise CaseError(f"--pole: no string lies over pole {', '.join(map(str, poles))}; name one that has a string")
    return over
