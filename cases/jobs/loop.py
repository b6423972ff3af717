"""One string of a solved case round the loop of its metal's memory."""

from __future__ import annotations

from dataclasses import replace

from stringflux.postprocess.results.each import numbered
from stringflux.postprocess.results.loop import StringLoop
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.loop import SwungString

from ..solved.abstract import SolvedCase
from ..solved.solve_row import one_thread
from ..solved.unmagnetised import refuse_unmagnetised


def swung_of(solved: SolvedCase, string: int, moved: tuple[float, float] = (0.0, 0.0)) -> SwungString:
    """String number `string` from 1, put in place (or `moved` across and up from there, m), ready to be swung.

    Raises
    ------
    InputError
        For a string that is none.
    CaseError
        For a pickup without a magnet.
    SolveError
        Where the solution does not settle.
    """
    shape = numbered(string, solved.strings).shape
    refuse_unmagnetised(solved.case, "so a string that swings changes no flux")
    shape = replace(shape, y=shape.y + moved[0], axis_height=shape.axis_height + moved[1])
    if shape.state == "curve":  # a metal in which nothing is held has one curve
        shape = replace(shape, pinning=0.0)
    layers = layers_of(shape, solved.materials)
    with one_thread():
        field = solved.among(solved.solution().field).over(string, shape)
        return SwungString(field, shape, layers, numerics=solved.numerics.string)


def loop_of(number: int, swung: SwungString, amplitude: float) -> StringLoop:
    """A string shaken, and swung up and down with an amplitude, m.

    Raises
    ------
    CaseError
        For an amplitude that there is no room for.
    SolveError
        Where its metal does not settle.
    """
    with one_thread():
        return StringLoop.of(number, swung.loop(amplitude))
