"""The picture of a balance: its strings, its setting and the limits of each."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from stringflux.geometry.case.model import Case
from stringflux.geometry.notes import pitch_words
from stringflux.postprocess.figures.style import house_style
from stringflux.postprocess.study_figures.setting import Move, setting_figure

from .search import hard_limits, pull_limits
from .study import Balanced
from .words import EVEN


def balance_figure(case: Case, found: Balanced) -> Figure:
    """Bars per string before and after, and what was moved."""
    notes = zip(case.string, found.gaps[1], strict=True)
    labels = [f"{i}\n{pitch_words(s.pitch)}\n{1e3 * gap:.2f} mm" for i, (s, gap) in enumerate(notes, start=1)]
    before, after = (np.max(np.abs(off)) for off in (found.off_before, found.off_after))
    measure = "equal pluck" if found.problem.request.measure == "output" else "sensitivity"
    held = [i + 1 for i, e in enumerate(found.off_after) if found.binding and abs(e) > EVEN]
    with house_style():
        return setting_figure(
            f"Balance by {measure}",
            f"up to {before:.1f} dB off before, {after:.1f} dB after; under each string its note and its gap after",
            labels, found.off_before, found.off_after, moves(found), held)


def moves(found: Balanced) -> list[Move]:
    """Each movement, and how far it might go from there with the others as they are."""
    limits = [*hard_limits(found.problem), *pull_limits(found.model)]
    out = []
    for j, (unknown, movement) in enumerate(zip(found.unknowns, found.movement, strict=True)):
        low, high = -unknown.travel, unknown.travel
        for limit in limits:
            slope, room = limit.row[j], limit.most - limit.row @ found.movement
            if slope > 1e-9:
                high = min(high, movement + max(room, 0.0) / slope)
            elif slope < -1e-9:
                low = max(low, movement + max(room, 0.0) / slope)
        out.append(Move(name=unknown.name, movement=float(movement), low=float(low), high=float(high)))
    return out
