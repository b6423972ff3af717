"""One string of a solved case round the loop of its metal's memory."""

from __future__ import annotations

from stringflux.postprocess.results.each import numbered
from stringflux.postprocess.results.loop import StringLoop
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.loop import SwungString

from ..solved.abstract import SolvedCase
from ..solved.solve_row import one_thread
from ..solved.unmagnetised import refuse_unmagnetised


def loop_of(solved: SolvedCase, string: int, amplitude: float) -> StringLoop:
    """String number `string` from 1, put in place, shaken, and swung up and down with an amplitude, m.

    Raises
    ------
    InputError
        For a string that is none.
    CaseError
        For a pickup without a magnet, or an amplitude that there is no room for.
    SolveError
        Where the solution does not settle.
    """
    shape = numbered(string, solved.strings).shape
    refuse_unmagnetised(solved.case, "so a string that swings changes no flux")
    layers = layers_of(shape, solved.materials)
    with one_thread():
        swung = SwungString(solved.solution().field, shape, layers, numerics=solved.numerics.string)
        return StringLoop.of(string, swung.loop(amplitude))
