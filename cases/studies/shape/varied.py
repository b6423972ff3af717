"""What `--vary` says of a body's lengths."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import parse, shown


@dataclass(frozen=True, kw_only=True)
class VariedLength:
    """A key of a body and the range that it may have, m."""

    key: str
    low: float
    high: float


def read_varied(texts: Sequence[str]) -> tuple[VariedLength, ...]:
    """What `--vary` says: "tip_along=0.5mm:3mm" each.

    Raises
    ------
    CaseError
    """
    found = []
    for text in texts:
        key, _, span = text.partition("=")
        low, colon, high = span.partition(":")
        if not key.strip() or not colon:
            raise CaseError(f"--vary: received {shown(text)}; write a key of the body and its range, such as "
                            "tip_along=0.5mm:3mm")
        try:
            ends = parse(low, "length"), parse(high, "length")
        except CaseError as error:
            raise CaseError(f"--vary {key}: {error}") from None
        if not ends[0] < ends[1]:
            raise CaseError(f"--vary {key}: received {shown(span)}, which leaves no room; write the smaller length "
                            "first")
        found.append(VariedLength(key=key.strip(), low=ends[0], high=ends[1]))
    return tuple(found)
