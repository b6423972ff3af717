"""What can be fitted to readings, and what the prediction itself is in doubt about.

Doubts, one σ each: the face field by the range of the magnets' μ_⊥ (a range counts as its half-width over √3) and
1 % of the method; the inductance by the range of what a signal meets in magnets and steel, and 0.5 % of the method;
Ω/m of the wire by its standard; the winding's capacitance by the honest range of its estimate, nothing if the case
has it as measured.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Protocol

import numpy as np

from stringflux.geometry.case.keys import near
from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import shown

from .problem import Parameter, Predictor
from .reading import Reading, asks_inductance
from .row_model import GAP_ROOM
from .terminals import KnownCopper

FIT_NAMES: Mapping[str, str] = MappingProxyType({
    "coercivity": "coercivity of all magnets over that of the case",
    "coercivity-each": "the same, magnet by magnet",
    "charge": "charge of all magnets",
    "charge-each": "the same, magnet by magnet",
    "turns": "turns",
    "capacitance": "capacitance of the winding",
    "gap": "what the gaps are more than they were read",
    "probe": "depth of the sensor behind the probe's surface",
})
ALL = "all"
EVERYTHING = ("coercivity-each", "turns", "capacitance", "gap", "probe")
"""What `--fit all` tries."""
OWN_FIELD, OWN_INDUCTANCE = 0.01, 0.005
_WIDE = float(np.sqrt(3))  # half-width of a range over its standard deviation


class ReadModel(Predictor, Protocol):
    """What is asked of a model: :class:`.BenchModel` of a row and :class:`.BuildModel` of a build."""

    @property
    def made(self) -> KnownCopper:
        """The copper at the terminals."""

    @property
    def fits(self) -> tuple[str, ...]:
        """Which of `FIT_NAMES` it can take."""

    def magnets(self) -> tuple[int, ...]:
        """Numbers (from 1) of the poles that hold a magnet which may be another."""

    def charges(self) -> tuple[float, ...]:
        """Of the uppermost magnet of each of them."""

    @property
    def inductance_range(self) -> tuple[float, float]:
        """What the doubt about signals multiplies the inductance with, low and high."""

    def output(self, r: Reading, readings: Sequence[Reading], state: Mapping[str, float]) -> float:
        """Level of an output, dB, in a state; the gaps of `readings` say how far its curve goes."""

    def field_ranges(self, height: float) -> Sequence[tuple[float, float]]:
        """What the doubt about μ_⊥ multiplies the field with at a height, low and high."""


def check_names(names: Sequence[str], fits: Sequence[str]) -> None:
    """Refuse a name that is none, or that a case with only these `fits` cannot take.

    Raises
    ------
    CaseError
    """
    for name in names:
        if name not in (*FIT_NAMES, ALL):
            raise CaseError(f"--fit: received {shown(name)}{near(name, [*FIT_NAMES, ALL])}; "
                            f"write one of {', '.join(FIT_NAMES)}, or {ALL}")
        if name not in (*fits, ALL):
            why = ("every trial would be a 3-D solution of its own" if name.split("-")[0] in ("coercivity", "charge")
                   else "readings at the terminals do not tell one coil from another")
            raise CaseError(f"--fit: received {shown(name)}, but this case is not one row of poles in one coil, and "
                            f"{why}; write {', '.join(fits)} or {ALL}")


def asked_parameters(names: Sequence[str], model: ReadModel, readings: Sequence[Reading]) -> list[Parameter]:
    """Parameters by the names of `FIT_NAMES`.

    Raises
    ------
    CaseError
        For a name that is none or that the model cannot take, or two that say the same.
    """
    check_names(names, model.fits)
    everything = tuple(n for n in EVERYTHING if n in model.fits)
    chosen = [n for name in names for n in (everything if name == ALL else (name,))]
    out: list[Parameter] = []
    for name in dict.fromkeys(chosen):
        base = name.removesuffix("-each")
        if name != base and base in chosen:
            raise CaseError(f"--fit: received both {base} and {name}; keep one of them")
        out += _parameters(name, base, model, readings)
    return out


def _parameters(name: str, base: str, model: ReadModel, readings: Sequence[Reading]) -> list[Parameter]:
    if base in ("coercivity", "charge"):
        magnets = model.magnets()
        if not magnets:
            raise CaseError(f"--fit: received {shown(name)}, but no pole of the case holds a magnet")
        charges = dict(zip(magnets, model.charges(), strict=True))
        which = [(f"{base} {i}", f"{base} of the magnet of pole {i}", charges[i]) for i in magnets]
        if name == base:
            which = [(base, f"{base} of the magnets", float(np.mean(list(charges.values()))))]
        if base == "charge":
            return [Parameter(name=n, words=words, start=c, scale=0.2, low=0.05, high=1.0, slow=True)
                    for n, words, c in which]
        # the scale of the case's own parts is multiplied with it, and has to stay in the key's bounds
        return [Parameter(name=n, words=words, start=1.0, scale=0.3, low=0.4, high=1.7, slow=True)
                for n, words, _ in which]
    made = model.made
    if base == "turns":
        return [Parameter(name="turns", words="the number of turns", start=made.turns, scale=0.2 * made.turns,
                          low=0.3 * made.turns, high=3 * made.turns)]
    if base == "capacitance":
        c = made.capacitance
        return [Parameter(name="capacitance", words="the capacitance of the winding", start=c, scale=0.7 * c,
                          low=0.05 * c, high=20 * c)]
    if base == "gap":
        return [Parameter(name="gap", words="the offset of the gaps", start=0.0, scale=0.5e-3, low=-GAP_ROOM,
                          high=GAP_ROOM)]
    return [_probe(readings) or Parameter(name="probe", words="the offset of the probe", start=0.0, scale=0.5e-3,
                                          low=_least_probe(readings), high=5e-3)]


def prediction_doubts(model: ReadModel, readings: Sequence[Reading]) -> list[Parameter]:
    """Doubts that matter for these readings."""
    out, made = [], model.made
    kinds = {r.quantity for r in readings}
    if "field" in kinds:
        height = float(np.median([r.distance or 0.0 for r in readings if r.quantity == "field"]))
        ends = [high - low for low, high in model.field_ranges(height)]
        sigma = float(np.hypot(np.mean(ends) / 2 / _WIDE, OWN_FIELD))
        out.append(_factor("field", "the doubt about the field (μ_⊥ of the magnets)", sigma))
        probe = _probe(readings)
        out += [probe] if probe else []
    if "resistance" in kinds and not made.resistance_measured:
        low, nominal, high = made.resistance_computed
        out.append(_factor("wire", "the resistance per length of the wire", (high - low) / 2 / nominal / _WIDE))
    if asks_inductance(readings):
        low, high = model.inductance_range
        out.append(_factor("inductance", "the doubt about the inductance (what a signal meets)",
                           float(np.hypot((high - low) / 2 / _WIDE, OWN_INDUCTANCE))))
    if any(r.alternating for r in readings) and not made.capacitance_measured:
        (low, high), c = made.capacitance_band, made.capacitance
        sigma = (high - low) / 2 / _WIDE
        out.append(Parameter(name="capacitance", words="the capacitance of the winding", start=c, scale=sigma,
                             low=0.1 * c, high=5 * c, sigma=sigma))
    return out


def _factor(name: str, words: str, sigma: float) -> Parameter:
    return Parameter(name=name, words=words, start=1.0, scale=sigma, low=0.5, high=2.0, sigma=sigma)


def _probe(readings: Sequence[Reading]) -> Parameter | None:
    """The probe's offset as it was read, with its uncertainty; the readings of it are not compared then."""
    read = [r for r in readings if r.quantity == "probe offset"]
    if not read:
        return None
    weight = np.array([r.uncertainty ** -2 for r in read])
    start, sigma = float(weight @ [r.value for r in read] / weight.sum()), float(weight.sum() ** -0.5)
    low = min(_least_probe(readings), start - sigma)
    return Parameter(name="probe", words="the offset of the probe", start=start, scale=max(sigma, 0.05e-3), low=low,
                     high=max(5e-3, start + sigma), sigma=sigma)


def _least_probe(readings: Sequence[Reading]) -> float:
    """The probe does not get into the pole."""
    nearest = min((r.distance or 0.0 for r in readings if r.quantity == "field"), default=0.0)
    return -nearest - 1e-6
