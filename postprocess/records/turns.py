"""What a quarter of a turn of a screw does to the strings."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class QuarterTurn:
    """A screw turned by a quarter.

    Attributes
    ----------
    kind : {"pole", "body", "side"}
        What it sets: a pole, a body of [[body]], or one side of the whole pickup.
    name : str
        "pole 3", "bass side", or what the body is called.
    pole : int
        Number of the pole that it moves, through all rows; 0 for other screws.
    pitch : float
        Of its thread, m per turn.
    clockwise : {-1, 1}
        Which way what it sets goes when it is turned clockwise, seen from the strings: 1 towards them.
    movement : float
        By a quarter of a turn, towards the strings, or away from them where nothing can come nearer, m.
    strings : tuple of int
        Numbers of the strings whose change is told: those over the pole, the one nearest to the body, or all.
    change : tuple of float
        Of the level of each by that movement, its S after over its S before, dB; nan where it is not heard.
    """

    kind: str
    name: str
    pole: int
    pitch: float
    clockwise: int
    movement: float
    strings: tuple[int, ...]
    change: tuple[float, ...]
