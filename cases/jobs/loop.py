"""One string of a solved case round the loop of its metal's memory."""

from __future__ import annotations

from stringflux.geometry.errors import CaseError
from stringflux.postprocess.string.held import held_layers
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.loop import PlacedString, SwingLoop

from ..solved.abstract import SolvedCase
from ..solved.solve_row import one_thread

PINNING = 1200.0
"""Mean pinning of core and wrap, A/m: chosen, not fitted."""


def loop_of(solved: SolvedCase, string: int, amplitude: float) -> SwingLoop:
    """String number `string` from 1, put in place, shaken, and swung up and down with an amplitude, m.

    Raises
    ------
    CaseError
        For a string that is none, or an amplitude that it has not the room for.
    SolveError
        Where the solution does not settle.
    """
    shapes = [s.shape for s in solved.strings]
    if not 1 <= string <= len(shapes):
        raise CaseError(f"string: received {string}; write a number from 1 to {len(shapes)}")
    shape = shapes[string - 1]
    layers = layers_of(shape, solved.materials)
    with one_thread():
        return PlacedString(solved.solution().field, shape, layers, held_layers(layers, PINNING)).loop(amplitude)
