"""What is counted positive where a string moves over a coil."""

from __future__ import annotations


def signs_of(sense: int) -> tuple[str, ...]:
    """Sense of winding (+1 counter-clockwise), +Φ, z, the + end, Lenz, in words."""
    way = "counter-clockwise" if sense > 0 else "clockwise"
    up = "up, towards the strings" if sense > 0 else "down, away from the strings"
    return (f"Seen from the strings the wire goes round {way}, from its start to its finish.",
            f"Φ is positive {up}: the way a right-handed screw moves that is turned as the wire goes round. "
            "⊗ is wire that goes away from you, ⊙ wire that comes towards you.",
            "z is positive up, away from the pole.",
            "e is positive where it drives current from start to finish inside the coil: the finish is then the + "
            "end.",
            "Lenz: if that current can flow, its own flux is against the change. While the string comes nearer, it "
            "weakens the flux that grows; the string is braked.")
