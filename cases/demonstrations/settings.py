"""What is asked of a demonstration; what stands at None is the demonstration's own choice."""

from __future__ import annotations

from dataclasses import dataclass

from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import shown

DRIVES = ("sine", "pluck")


@dataclass(frozen=True, kw_only=True)
class LessonSettings:
    """LessonSettings of a demonstration, in SI.

    Attributes
    ----------
    string : int
        From 1.
    amplitude, frequency : float, optional
        Of the string, m and Hz.
    drive : {"sine", "pluck"}
    field : float, optional
        Of the mains, rms, T.
    mains : float
        Hz.

    Raises
    ------
    CaseError
        For a value that cannot be; one sentence.
    """

    string: int = 1
    amplitude: float | None = None
    frequency: float | None = None
    drive: str = "sine"
    field: float | None = None
    mains: float = 50.0

    def __post_init__(self) -> None:
        if self.drive not in DRIVES:
            raise CaseError(f"drive: received {shown(self.drive)}; write {', '.join(DRIVES)}")
        for name in ("amplitude", "frequency", "field", "mains"):
            value = getattr(self, name)
            if value is not None and not 0 < value < float("inf"):
                raise CaseError(f"{name}: received {value:g}; write one above 0")
