"""What a demonstration is made of: columns, steps of the working, slides, and all of it together.

Numbers are in SI. A :class:`SeriesColumn` says the unit that a class reads, and gives the same in it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from stringflux.geometry.arrays import Array

from .moving import MovingPicture
from .quantities import scale

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from .palette import Palette


@dataclass(frozen=True, kw_only=True, eq=False)
class SeriesColumn:
    """One quantity over a series.

    Attributes
    ----------
    name : str
        In plain letters, as in the head of a CSV file.
    unit : str
        Shown unit, of :data:`.quantities.SCALES`; "" for a plain number.
    values : array (n,)
        In SI.
    """

    name: str
    unit: str
    values: Array

    @property
    def shown(self) -> Array:
        """The values in the shown unit, (n,)."""
        return self.values * scale(self.unit)


@dataclass(frozen=True, kw_only=True, eq=False)
class Series:
    """Columns of one length: a CSV file of that name."""

    name: str
    columns: tuple[SeriesColumn, ...]

    def __getitem__(self, name: str) -> SeriesColumn:
        """The column of that name; KeyError for none."""
        return {c.name: c for c in self.columns}[name]


@dataclass(frozen=True, kw_only=True)
class Step:
    """One line of the working: what is said, the formula, the numbers put in, what comes out.

    Attributes
    ----------
    says : str
        A sentence.
    formula, numbers, result : str
        "ΔΦ = Φ(−A) − Φ(A)", "12.31 nWb − 12.05 nWb", "0.26 nWb"; "" for a line of words alone.
    """

    says: str
    formula: str = ""
    numbers: str = ""
    result: str = ""

    @property
    def line(self) -> str:
        """Formula, numbers and result with equals signs between them."""
        return " = ".join(part for part in (self.formula, self.numbers, self.result) if part)


@dataclass(frozen=True, kw_only=True, eq=False)
class Slide:
    """A figure of 16:9 for a wall.

    Attributes
    ----------
    name : str
        Of its files.
    title, under : str
        What is seen, and a quieter line.
    draw : callable
        Draws it on an empty matplotlib figure in the colours of a palette, under the title.
    """

    name: str
    title: str
    under: str
    draw: Callable[[Figure, Palette], object]


@dataclass(frozen=True, kw_only=True, eq=False)
class Content:
    """All that a demonstration shows and says.

    Attributes
    ----------
    name : str
        As the command names it.
    title, under : str
        What is shown, and of what.
    found : record
        What was computed, in SI.
    law : str
        The formula that it is about.
    steps : tuple of Step
    signs : tuple of str
        What is counted positive: sense of winding, +Φ, the + end, Lenz.
    cautions : tuple of str
    series : tuple of Series
    slides : tuple of Slide
    moving : MovingPicture
    sounds : mapping of str to array (n,)
        Volts, by the names of their files, all at `rate`.
    rate : float
        Samples per second; 0 without sounds.
    """

    name: str
    title: str
    under: str
    found: Any
    law: str
    steps: tuple[Step, ...]
    signs: tuple[str, ...]
    cautions: tuple[str, ...] = ()
    series: tuple[Series, ...]
    slides: tuple[Slide, ...]
    moving: MovingPicture
    sounds: Mapping[str, Array] = field(default_factory=dict)
    rate: float = 0.0
