"""A moving picture as numbers: views to scale in which shapes move, and traces that run beside them on one clock.

Who draws it (:mod:`.player` for a browser, :mod:`.gif`) adds nothing to what stands here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array

Role = Literal["magnet", "north", "south", "steel", "copper", "winding", "into", "out", "string", "quiet", "accent"]
"""What a shape is made of, or stands for: it decides the colour. "into" and "out": wires that are cut through, in
which current counts positive away from the eye and towards it."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Motion:
    """Where a shape is at every time: moved by (u, z), m, then turned by an angle, rad, about a point, m.

    Attributes
    ----------
    u, z, turned : array (n,)
    about : tuple of float
    """

    u: Array
    z: Array
    turned: Array
    about: tuple[float, float] = (0.0, 0.0)

    @classmethod
    def of(cls, count: int, *, u: Array | float = 0.0, z: Array | float = 0.0, turned: Array | float = 0.0,
           about: tuple[float, float] = (0.0, 0.0)) -> Motion:
        """Of arrays (count,) or single numbers."""
        whole = [np.broadcast_to(np.asarray(a, dtype=float), (count,)) for a in (u, z, turned)]
        return cls(u=whole[0], z=whole[1], turned=whole[2], about=about)


@dataclass(frozen=True, kw_only=True, eq=False)
class Shape:
    """One outline.

    Attributes
    ----------
    role : Role
    outline : array (2, n)
        u and z, m; closed by itself if `filled`.
    filled : bool
    label : str
        Written beside it, "" for none.
    at : tuple of float, optional
        Where the label stands, m; the middle of the outline if left out.
    motion : Motion, optional
        None for what rests.
    """

    role: Role
    outline: Array
    filled: bool = True
    label: str = ""
    at: tuple[float, float] | None = None
    motion: Motion | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class View:
    """A picture to scale.

    Attributes
    ----------
    title : str
    window : tuple of float
        u from, u to, z from, z to, m.
    shapes : tuple of Shape
        The later ones in front.
    lines : tuple of tuple of arrays (2, k)
        Field lines at each phase, u and z, m.
    phase : int array (n,), optional
        Which set of lines is seen at each time; None where there are none.
    arrows : bool
        Whether lines say by arrows which way B goes; their points run along B.
    carried : Motion, optional
        What moves the lines, if they go along with something.
    """

    title: str
    window: tuple[float, float, float, float]
    shapes: tuple[Shape, ...]
    lines: tuple[tuple[Array, ...], ...] = ()
    phase: npt.NDArray[np.int64] | None = None
    arrows: bool = True
    carried: Motion | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class TraceCurve:
    """One line of a trace: its name in the legend, and values (n,) in SI. `quiet`: drawn thin."""

    name: str
    values: Array
    quiet: bool = False


@dataclass(frozen=True, kw_only=True, eq=False)
class Trace:
    """Curves over time in one panel.

    Attributes
    ----------
    name : str
        "e(t)".
    unit : str
        Shown, of :data:`.quantities.SCALES`.
    curves : tuple of TraceCurve
        The first one is read out at the cursor.
    areas : bool
        Whether the area under the first one is filled: ∫ e dt is a flux.
    """

    name: str
    unit: str
    curves: tuple[TraceCurve, ...]
    areas: bool = False


@dataclass(frozen=True, kw_only=True, eq=False)
class Slope:
    """A curve that is not of time, with a point that runs on it and the tangent there: λ over a string's place.

    Attributes
    ----------
    name, x_name : str
        Of both axes.
    unit, x_unit : str
        Shown.
    x, y : arrays (m,)
        The curve, SI.
    at_x, at_y : arrays (n,)
        The point at every time, SI.
    tangent : array (n,)
        The slope there, SI.
    """

    name: str
    unit: str
    x_name: str
    x_unit: str
    x: Array
    y: Array
    at_x: Array
    at_y: Array
    tangent: Array


@dataclass(frozen=True, kw_only=True, eq=False)
class MovingPicture:
    """A moving picture.

    Attributes
    ----------
    time : array (n,)
        s, rising evenly.
    seconds : float
        How long it plays, s; it then begins anew.
    views : tuple of View
    traces : tuple of Trace
        Under one another, on the same time.
    slope : Slope, optional
    notes : tuple of str
        Sentences under the picture: what is magnified, what is left out.
    """

    time: Array
    seconds: float
    views: tuple[View, ...]
    traces: tuple[Trace, ...]
    slope: Slope | None = None
    notes: tuple[str, ...] = ()

    @property
    def slower(self) -> float:
        """How many times slower than the thing itself it plays; under 1 for faster."""
        return self.seconds / float(self.time[-1] - self.time[0])


def label(text: str, u: float, z: float, motion: Motion | None = None) -> Shape:
    """A word in a picture."""
    return Shape(role="quiet", outline=np.array([[u], [z]]), filled=False, label=text, motion=motion)


def box(left: float, bottom: float, right: float, top: float) -> Array:
    """The outline (2, 4) of a rectangle."""
    return np.array([[left, right, right, left], [bottom, bottom, top, top]])


def circle(u: float, z: float, radius: float, count: int = 32) -> Array:
    """The outline (2, count) of a circle."""
    a = np.linspace(0, 2 * np.pi, count, endpoint=False)
    return np.array([u + radius * np.cos(a), z + radius * np.sin(a)])
