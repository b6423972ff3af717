r"""Readings in volts and webers: the law itself, of a driven string and of magnets drawn out of a coil.

    emf         e(t) = −dλ/dt of the string as it was driven, by the loop of its metal; other gaps and magnets by S
    flux step   k N Φ, Φ of the magnets through one turn; k = 1 for magnets drawn out, 2 for a coil turned over

What is not known exactly is a doubt of the prediction: S by its range and 1 % of the method, the string's amplitude
and gap by the uncertainties that were read with them, Φ by 1 %.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from stringflux.geometry.arrays import Array

from .parameters import OWN_FIELD, ReadModel
from .problem import Parameter
from .reading import EMF, STEPS, Reading
from .row_model import GAP_ROOM, State
from .terminals import KnownCopper

OWN_SENSITIVITY = 0.01
LAW = (*EMF, "flux step")


def as_outputs(readings: Sequence[Reading]) -> list[Reading]:
    """What a model has to be solved for: a driven string as an output at its gap, no flux steps."""
    return [_output(r) if r.quantity in EMF else r for r in readings if r.quantity != "flux step"]


class LawModel:
    """A model that also predicts volts and webers.

    Parameters
    ----------
    model : ReadModel
        Solved for :func:`as_outputs` of the readings.
    volts : mapping of int to float
        By the line of an emf: what it is for the case as it stands.
    flux : float or None
        Of the magnets through one turn, Wb; needed for flux steps.
    doubt : mapping of int to float
        One σ of S, over S, by the number of a string.
    """

    def __init__(self, model: ReadModel, volts: Mapping[int, float], flux: float | None,
                 doubt: Mapping[int, float]) -> None:
        self.model, self.volts, self.flux, self.doubt = model, volts, flux, doubt

    @property
    def made(self) -> KnownCopper:
        """Of the model."""
        return self.model.made

    @property
    def fits(self) -> tuple[str, ...]:
        """Of the model."""
        return self.model.fits

    def magnets(self) -> tuple[int, ...]:
        """Of the model."""
        return self.model.magnets()

    def charges(self) -> tuple[float, ...]:
        """Of the model."""
        return self.model.charges()

    @property
    def inductance_range(self) -> tuple[float, float]:
        """Of the model."""
        return self.model.inductance_range

    def field_ranges(self, height: float) -> Sequence[tuple[float, float]]:
        """Of the model."""
        return self.model.field_ranges(height)

    def output(self, r: Reading, readings: Sequence[Reading], state: State) -> float:
        """Of the model."""
        return self.model.output(r, readings, state)

    def predict(self, readings: Sequence[Reading], state: State) -> Array:
        """Predicted values (n,), outputs without their level."""
        out = np.empty(len(readings))
        plain = [i for i, r in enumerate(readings) if r.quantity not in LAW]
        if plain:
            out[plain] = self.model.predict([readings[i] for i in plain], state)
        turns = state.get("turns", self.made.turns) / self.made.turns
        driven = [_output(r) for r in readings if r.quantity in EMF]
        for i, r in enumerate(readings):
            if r.quantity in EMF:
                here = _output(r)
                moved = replace(here, gap=(r.gap or 0.0) + state.get(gap_name(r), 0.0))
                level = self.output(moved, driven, state) - self.output(here, driven, {})
                share = state.get(f"sensitivity {r.string}", 1.0) * (1 + state.get(amplitude_name(r), 0.0))
                out[i] = self.volts[r.line] * turns * share * 10 ** (level / 20)
            elif r.quantity == "flux step":
                out[i] = STEPS[r.step] * abs(self.flux or 0.0) * self.made.turns * turns * state.get("flux", 1.0)
        return out

    def doubts(self, readings: Sequence[Reading]) -> list[Parameter]:
        """What the prediction of volts and webers is in doubt about."""
        out: dict[str, Parameter] = {}
        for r in readings:
            if r.quantity in EMF:
                number, a = r.string or 1, r.amplitude_uncertainty / (r.amplitude or 1.0)
                _doubt(out, f"sensitivity {number}", f"S of string {number}", 1.0, self.doubt[number], (0.3, 3.0))
                swing, gap = (f"{1e3 * (v or 0.0):g} mm" for v in (r.amplitude, r.gap))
                _doubt(out, amplitude_name(r), f"the amplitude of string {number}, a share of {swing}", 0.0, a,
                       (-0.9, 3.0))
                _doubt(out, gap_name(r), f"the gap of string {number}, read as {gap}", 0.0, r.gap_uncertainty,
                       (-GAP_ROOM, GAP_ROOM))
            elif r.quantity == "flux step":
                _doubt(out, "flux", "the magnets' flux through a turn", 1.0, OWN_FIELD, (0.3, 3.0))
        return list(out.values())


def gap_name(r: Reading) -> str:
    """The doubt about its gap, which readings at one gap share."""
    return f"gap of string {r.string} at {1e3 * (r.gap or 0.0):.6g} mm, {1e3 * r.gap_uncertainty:.6g}"


def amplitude_name(r: Reading) -> str:
    """The doubt about its amplitude, which readings of one amplitude share."""
    return f"amplitude of string {r.string}, {1e3 * (r.amplitude or 0.0):.6g} mm, {1e3 * r.amplitude_uncertainty:.6g}"


def _doubt(out: dict[str, Parameter], name: str, words: str, start: float, sigma: float,
           ends: tuple[float, float]) -> None:
    if sigma > 0 and name not in out:
        out[name] = Parameter(name=name, words=words, start=start, scale=sigma, low=ends[0], high=ends[1],
                              sigma=sigma)


def _output(r: Reading) -> Reading:
    return replace(r, quantity="output")
