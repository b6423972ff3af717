"""The setting sheet of a balance."""

from __future__ import annotations

from stringflux.geometry.case.threads import turn_words
from stringflux.geometry.notes import pitch_words
from stringflux.postprocess.sheets.setting import Check, SettingMove, page

from .result import Balanced
from .words import how_read, sentences


def setting_sheet(found: Balanced, name: str) -> str:
    """What is moved, from where to where, as one HTML page to print.

    Parameters
    ----------
    name : str
        Of the case's file.
    """
    moves = [SettingMove(name=u.name[0].upper() + u.name[1:], movement=float(m),
                         before=None if u.told_by_movement else u.start,
                         after=None if u.told_by_movement else u.reading(float(m)),
                         turns="" if t is None else turn_words(t))
             for u, m, t in zip(found.unknowns, found.movement, found.turns, strict=True)]
    (before, after), case = found.gaps, found.case
    checks = [Check(number=i + 1, pitch=pitch_words(s.pitch), before=float(before[i]), after=float(after[i]),
                    off_before=float(found.off_before[i]), off_after=float(found.off_after[i]))
              for i, s in enumerate(case.string)]
    return page(case.title or name, name, how_read(found), moves, checks, sentences(found))
