"""Wishes as they are typed: "peak=4.2kHz", "output>=+2dB over other.toml", "resistance<8kohm", or "4.2kHz" alone.

A wish is a limit (:mod:`..designs.limits`) on a figure of a design; "NAME = VALUE" counts as ± 5 %, or ± 0.5 dB. A
level may count over that of another case, which is then computed too. What has its kind in its unit, as `wind --for`
takes it, needs no name.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import shown

from ...files.load import load_case
from ...solved.direct_current import refuse_direct_current
from ...solved.unmagnetised import refuse_unmagnetised
from ..designs.aims import FIELD, INDUCTANCE, LEVEL, PEAK, RESISTANCE, read_aim
from ..designs.limits import read_limit
from ..designs.outputs import FIGURES, figure_of, without_value

OPTION = "--want"
FIGURE_OF = {PEAK: "resonance", LEVEL: "output", FIELD: "face_field", RESISTANCE: "resistance",
             INDUCTANCE: "inductance", "hum": "hum_per_output"}
"""The figure that a short name stands for."""
BY_TURNS = {"resonance": PEAK, "output": LEVEL, "resistance": RESISTANCE, "inductance": INDUCTANCE}
"""Figures that turns can be looked for by, and as which kind."""
_LEVELS = ("output", "sensitivity")
_OVER = re.compile(r"(.+?)\s+over\s+(\S.*?)\s*", re.DOTALL)
_VALUE = re.compile(r"\s*[+−-]?\s*[.\d]")
_EXAMPLE = f"write for example {OPTION} 'peak=4.2kHz' {OPTION} 'resistance<8kohm'"
_NAMED = re.compile(r"\s*([A-Za-z][A-Za-z0-9_ -]*?)\s*([<>=≤≥].*)", re.DOTALL)


@dataclass(frozen=True, kw_only=True)
class Wish:
    """What is wanted of a design.

    Attributes
    ----------
    text : str
        As typed.
    name : str
        Of the figure.
    low, high : float
        SI, or dB over the same figure of the case `over`; infinite where there is no end.
    over : str
        A case by its file or its name; "" for none.
    """

    text: str
    name: str
    low: float
    high: float
    over: str = ""

    @property
    def aimed(self) -> bool:
        """Whether it is a value that turns can be looked for by."""
        return self.name in BY_TURNS and math.isfinite(self.low) and math.isfinite(self.high)

    def ends(self, levels: Mapping[tuple[str, str], float]) -> tuple[float, float]:
        """Low and high in SI; `levels` has the figures of other cases, by name of the figure and case."""
        if not self.over:
            return self.low, self.high
        level = levels[self.name, self.over]
        return level * 10 ** (self.low / 20), level * 10 ** (self.high / 20)

    def aim(self, levels: Mapping[tuple[str, str], float]) -> float:
        """The value in SI that turns are looked for by: the middle of both ends, of levels in dB."""
        middle = (self.low + self.high) / 2
        return levels[self.name, self.over] * 10 ** (middle / 20) if self.over else middle

    def miss(self, value: float, levels: Mapping[tuple[str, str], float]) -> float:
        """How far a value is from what is wanted: 0 where it is that, else in ln, or in dB as such."""
        low, high = self.ends(levels)
        if math.isnan(value):
            return math.inf
        if low <= value <= high:
            return 0.0
        end = low if value < low else high
        if figure_of(self.name).unit == "dB":
            return abs(value - end) * math.log(10) / 20
        if value * end > 0:
            return abs(math.log(value / end))
        return abs(value - end) / max(abs(end), abs(value))


def read_wishes(given: Iterable[str], case: Case) -> tuple[Wish, ...]:
    """All that is wanted of designs of a case.

    Raises
    ------
    CaseError
        One sentence: what was received and what would do.
    """
    found = tuple(_read(text, case) for text in given)
    if not found:
        raise CaseError(f"nothing is wanted; {_EXAMPLE}")
    texts = [wish.text for wish in found]
    if twice := next((text for text in texts if texts.count(text) > 1), ""):
        raise CaseError(f"{OPTION}: received {shown(twice)} twice; write it once")
    return found


def _read(text: str, case: Case) -> Wish:
    named = _NAMED.fullmatch(text.replace("−", "-"))
    if named is None:
        if not _VALUE.match(text):
            raise CaseError(f"{OPTION}: received {shown(text)}; {_EXAMPLE}")
        aim = read_aim(OPTION, text)
        width = 0.5 if aim.over else 0.05 * aim.value
        name = _known(FIGURE_OF[aim.kind], text, case)
        _has_level(aim.over, name, text)
        return Wish(text=text.strip(), name=name, low=aim.value - width, high=aim.value + width, over=aim.over)
    name = named[1].strip().lower().replace(" ", "_").replace("-", "_")
    over = _OVER.fullmatch(named[2])
    if over and FIGURE_OF.get(name, name).split("_", 2)[-1] not in _LEVELS:
        raise CaseError(f"{OPTION}: received {shown(text)}; only {' and '.join(_LEVELS)} are levels, in dB over "
                        "another case")
    read = read_limit(f"{named[1]}{over[1]}" if over else text, _names(case), without_value(case), option=OPTION,
                      short=FIGURE_OF, unit="dB" if over else None, widened=True)
    _known(read.name, text, case)
    _has_level(over[2] if over else "", read.name, text)
    return Wish(text=text.strip(), name=read.name, low=read.low, high=read.high, over=over[2] if over else "")


def _names(case: Case) -> list[str]:
    counts = {"string": len(case.string), "pole": sum(len(row.row.places()) for row in case.rows())}
    single = [f"{figure.per}_{i}_{name}" for name, figure in FIGURES.items() if figure.per
              for i in range(1, counts[figure.per] + 1)]
    return [*FIGURES, *single]


def _known(name: str, text: str, case: Case) -> str:
    """The figure, unless the case says too little for it."""
    if refused := without_value(case).get(name):
        raise CaseError(f"{OPTION}: received {shown(text)}; {refused}")
    if name.split("_", 2)[-1] in ("output", "output_balance", "pull") or name in ("output_balance", "hum_per_output"):
        from ...jobs.plucked import bridge_distance

        bridge_distance(case)
    return name


def _has_level(over: str, name: str, text: str) -> None:
    """Refuse a case to count over that has no such level; nothing is solved for it."""
    if not over:
        return
    other: Case | None = None
    try:
        other = load_case(over)
        if name not in _names(other):
            raise CaseError(f"it has {len(other.string)} strings, and so no {name}")
        refuse_direct_current(other, "design")
        refuse_unmagnetised(other, "so there is no level to count over")
        _known(name, text, other)
    except CaseError as error:
        said = str(error) if other is None else f"{over}: {error}"
        raise CaseError(f"{OPTION}: received {shown(text)}: {said}") from None
