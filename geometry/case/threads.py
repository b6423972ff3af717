"""Screws that set heights: how far a turn takes them, and the settings of a hand in turns.

A screw with a right-hand thread of pitch P, m per turn, turned by n turns clockwise as seen from above goes down by
n P. What it sets goes with it, or, where its head rests on a frame and what it sets hangs on it, the other way::

    movement towards the strings = clockwise · n · P,     clockwise = −1 or +1

References
----------
ISO 261:1998 (ISO general purpose metric screw threads, general plan) and ISO 724: the coarse pitch of each diameter.
From memory, and held against two charts that quote the standards, of M1 to M2.2 and of M1.6 to M8.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Annotated, Any, Literal, Self, cast

from pydantic import Field, GetJsonSchemaHandler, ModelWrapValidatorHandler, ValidationInfo, model_validator
from pydantic_core import CoreSchema

from ..errors import CaseError
from ..units import mm, parse, shown, within
from .keys import Quantity, Table

COARSE = {
    1.0: 0.25, 1.1: 0.25, 1.2: 0.25, 1.4: 0.3, 1.6: 0.35, 1.8: 0.35, 2.0: 0.4, 2.2: 0.45, 2.5: 0.45, 3.0: 0.5,
    3.5: 0.6, 4.0: 0.7, 5.0: 0.8, 6.0: 1.0, 7.0: 1.0, 8.0: 1.25,
}
"""Coarse pitch by nominal diameter, mm."""
INCH = 25.4e-3
THINNER, THICKER = 0.22, 0.08
"""How far what stands for a screw may be off the diameter of its thread: a rod as thick as its core, 0.8 of it."""
EIGHTHS = 8
"""Of a turn: what a hand sets."""
_METRIC = re.compile(r"[Mm]\s*([0-9]{1,2}(?:\.[0-9]{1,2})?)")
_PER_INCH = re.compile(r"([0-9]{1,3}(?:\.[0-9]{1,2})?)\s*per\s+inch")
WANTED = 'write its name, such as "M3", its pitch, "0.5 mm", or its turns, "40 per inch"'


@dataclass(frozen=True)
class Pitch(Quantity):
    """Marks the thread of a screw: "M3", "0.5 mm" or "40 per inch" in the file, its pitch in m in the model."""

    def read(self, value: Any, info: ValidationInfo) -> float:
        if isinstance(value, float) and (info.context or {}).get("si"):
            return super().read(value, info)
        pitch = read_thread(value)
        if not within(pitch, self.low, self.high):
            raise ValueError(f"received {shown(value)}; write a thread whose pitch lies between {1e3 * self.low:g} "
                             f"and {1e3 * self.high:g} mm a turn")
        return pitch

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        return {"type": "string", "examples": ["M3", "0.5 mm", "40 per inch"]}


ThreadPitch = Annotated[float, Pitch("length", 0.1e-3, 3e-3)]


def read_thread(value: object) -> float:
    """The pitch of a thread, m.

    Raises
    ------
    ValueError
        When it is none that is known, as a sentence.

    Examples
    --------
    >>> read_thread("M3"), read_thread("0.5 mm"), read_thread("40 per inch")
    (0.0005, 0.0005, 0.000635)
    """
    said = f"received {shown(value)}"
    if not isinstance(value, str):
        raise ValueError(f"{said}; {WANTED}")
    text = value.strip()
    if named := _METRIC.fullmatch(text):
        if (pitch := COARSE.get(float(named[1]))) is None:
            raise ValueError(f"{said}, whose coarse pitch is not in the table (M1 to M8 of ISO 261); write its "
                             'pitch, such as "0.5 mm"')
        return round(pitch * 1e-3, 12)
    if counted := _PER_INCH.fullmatch(text):
        if not (number := float(counted[1])) > 0:
            raise ValueError(f"{said}, a thread that never turns in; {WANTED}")
        return float(f"{INCH / number:.12g}")
    try:
        return parse(text, "length")
    except CaseError:
        raise ValueError(f"{said}, which is no thread that is known here; {WANTED}") from None


@dataclass(frozen=True, kw_only=True)
class Screw:
    """A screw that sets a height.

    Attributes
    ----------
    pitch : float
        m per turn.
    clockwise : {-1, 1}
        Which way what it sets goes when it is turned clockwise, seen from above: 1 towards the strings.
    """

    pitch: float
    clockwise: int = -1

    def turns(self, movement: float) -> float:
        """Turns for a movement towards the strings, m; positive clockwise."""
        return self.clockwise * movement / self.pitch

    @property
    def step(self) -> float:
        """The movement by an eighth of a turn, m."""
        return self.pitch / EIGHTHS

    @property
    def quarter(self) -> float:
        """The movement by a quarter of a turn, m."""
        return self.pitch / 4


def turn_words(turns: float) -> str:
    """Turns to the nearest eighth, in words.

    Examples
    --------
    >>> turn_words(1.375), turn_words(-0.25), turn_words(0.01)
    ('1 3/8 clockwise', '1/4 counter-clockwise', 'stays')
    """
    eighths = round(abs(turns) * EIGHTHS)
    if not eighths:
        return "stays"
    whole, part = divmod(eighths, EIGHTHS)
    words = [str(whole)] if whole else []
    if part:
        words.append(str(Fraction(part, EIGHTHS)))
    return f"{' '.join(words)} {'clockwise' if turns > 0 else 'counter-clockwise'}"


def _named(thread: object) -> float | None:
    """The diameter, m, of a thread that is written by its name."""
    named = _METRIC.fullmatch(thread.strip()) if isinstance(thread, str) else None
    return 1e-3 * float(named[1]) if named else None


class Threaded(Table):
    """What may be a screw that stands and sets a height; `diameter` is that of its shank."""

    thread: Annotated[
        ThreadPitch | None,
        Field(description='Of a screw that sets a height: "M3", its pitch "0.5 mm", or "40 per inch".'),
    ] = None

    @model_validator(mode="wrap")
    @classmethod
    def _is_as_thick(cls, data: Any, read: ModelWrapValidatorHandler[Self]) -> Self:
        found = read(data)
        nominal = _named(data.get("thread")) if isinstance(data, Mapping) else None
        thick = cast(Any, found).diameter
        if nominal and not (1 - THINNER) * nominal <= thick <= (1 + THICKER) * nominal:
            raise ValueError(f"thread: received {shown(data['thread'])} on a rod of {mm(thick)}, and a screw of that "
                             f"thread is {mm(nominal)} thick; write it on the part that is the screw, or its pitch "
                             f'alone, "{1e3 * (found.thread or 0.0):g} mm"')
        return found

    @model_validator(mode="after")
    def _turns_upright(self) -> Self:
        stands = getattr(self, "lies", "upright") == "upright" and not getattr(self, "rotated", ())
        if self.thread is not None and not stands:
            raise ValueError("thread: received on a body that does not stand upright, where turning sets no height; "
                             "leave it out, or let the body stand")
        return self

    @property
    def thread_pitch(self) -> float | None:
        """Of its thread, m a turn, where one is given."""
        return self.thread

    @property
    def screw(self) -> Screw | None:
        """What its thread sets, a right-hand one."""
        return None if self.thread is None else Screw(pitch=self.thread)


class HeightScrews(Table):
    """The two screws by which the whole pickup is set, one at either side."""

    thread: Annotated[
        ThreadPitch, Field(description='Of both: "M3", its pitch "0.5 mm", or "40 per inch".')
    ]
    apart: Annotated[
        Annotated[float, Quantity("length", 10e-3, 300e-3)],
        Field(description="From one to the other across the strings, centre to centre."),
    ]
    clockwise: Annotated[
        Literal["raises", "lowers"],
        Field(description="What turning one clockwise, seen from the strings, does to the pickup: raises where it "
                          "hangs on them, lowers where they go into wood."),
    ]

    def screw(self) -> Screw:
        """One of them."""
        return Screw(pitch=self.thread, clockwise=1 if self.clockwise == "raises" else -1)

    def places(self) -> tuple[float, float]:
        """y of both, m, symmetric about y = 0."""
        return -self.apart / 2, self.apart / 2
