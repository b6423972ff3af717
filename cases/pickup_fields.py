"""What a solved case is in space: its fields at points, what they link, and what they pull at."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

from .solved.abstract import SolvedCase

if TYPE_CHECKING:
    import numpy.typing as npt

    from stringflux.postprocess.results import Field
    from stringflux.postprocess.results.aperture import StringAperture

    from .jobs.flux import BodyFlux, SectionFlux
    from .jobs.force import BodyForce

T = TypeVar("T")
Progress = Callable[[str, float], None]


def nobody(stage: str, share: float) -> None:
    """Tell nobody how far the work is."""


class PickupFields:
    """The part of a :class:`.pickup.Pickup` that asks for fields; whatever was made is kept and handed out again."""

    def __init__(self, solved: SolvedCase) -> None:
        self.solved = solved
        self._made: dict[object, Any] = {}

    def aperture(self, string: int = 1) -> StringAperture:
        """Over which length of a string (from 1) the coils listen, as they are connected.

        Raises
        ------
        InputError
            Where there is no such string.

        Examples
        --------
        >>> from stringflux.cases import load_case, solve
        >>> heard = solve(load_case("bench-single"), quality="draft").aperture(1)
        >>> 4e-3 < heard.width < 6e-3  # m
        True
        """
        from .jobs.strings import aperture_of

        return self._once(("aperture", string), lambda: aperture_of(self.solved, string))

    def field(self, points: npt.ArrayLike) -> Field:
        """B₀ of the magnets at any points over the faces, without the strings.

        Parameters
        ----------
        points : array-like (3,) or (3, n)
            x along the strings, y across, z up from the bobbin's top plate, m.

        Raises
        ------
        InputError
            Where a point is so close to a body that the fields do not hold: of a row of poles or bars under a face or
            close over it, of other builds within about an element, some two millimetres.

        Examples
        --------
        >>> import numpy as np
        >>> from stringflux.cases import load_case, solve
        >>> pickup = solve(load_case("bench-single"), quality="draft")
        >>> face, z = pickup.prediction(maps=False).poles[0].face, np.linspace(1e-3, 8e-3, 8)
        >>> over = pickup.field([0 * z, 0 * z, face + z])  # up the pole's axis
        >>> bool(np.all(np.diff(over.size) < 0))
        True
        """
        from .jobs.strings import bias_at

        return bias_at(self.solved, points)

    def reciprocal(self, points: npt.ArrayLike) -> Field:
        """b of one ampere at the terminals, T/A, poles in place; points and errors as of :meth:`field`."""
        from .jobs.strings import reciprocal_at

        return reciprocal_at(self.solved, points)

    def force(self, *bodies: str, lift: float = 0.0, progress: Progress = nobody) -> BodyForce:
        """The force of all else on bodies, by name, together: a keeper, a magnet, a cover, or "pole 3". They are
        taken off what they touch by `lift`, m; 0 where they touch nothing.

        Raises
        ------
        CaseError
            For a name or a pickup without a magnet, or where bodies touch others and `lift` does not say how far off.

        Examples
        --------
        >>> from stringflux.cases import load_case, solve
        >>> found = solve(load_case("bar-screws-six"), quality="draft").force("keeper", lift=1e-3)
        >>> bool(found.force[2] > 0)  # N: up, to the magnet
        True
        """
        from .jobs.force import force_of

        return self._once(("force", bodies, lift),
                          lambda: force_of(self.solved, bodies, lift, lambda name: progress(name, 0.5)))

    def flux_through(self, centre: Sequence[float], across: str = "z", *, radius: float | None = None,
                     size: Sequence[float] | None = None, progress: Progress = nobody) -> SectionFlux:
        """The magnets' flux through a disc or a rectangle, Wb, whatever stands in it; strings are not there.

        `centre`, `across` ("x", "y" or "z"; flux that way is positive), `radius` of a disc or `size` of a rectangle
        along the two other axes, in the order x, y, z: all in m.

        Raises
        ------
        InputError
            For a section that cannot be, or whose rim comes too close to a magnetic body.
        """
        from .jobs.flux import FluxArea, flux_of

        section = FluxArea(centre=centre, across=across, radius=radius, size=size)
        return flux_of(self.solved, section, lambda name: progress(name, 0.5))

    def flux_in(self, *bodies: str, across: str = "z", at: float | None = None,
                progress: Progress = nobody) -> BodyFlux:
        """The static flux within a magnetic body, or several together, by name, or "pole 3", Wb: as a search coil
        wound close round it has it. `across`: the axis that the section stands across; `at`: its place on it, m, half
        way if left out.

        Raises
        ------
        CaseError
            For a name, or a place beside the body.

        Examples
        --------
        >>> from stringflux.cases import load_case, solve
        >>> found = solve(load_case("bar-screws-six"), quality="draft").flux_in("keeper", across="y")
        >>> bool(found.area > 0)  # m²
        True
        """
        from .jobs.flux import flux_in

        return self._once(("flux in", bodies, across, at),
                          lambda: flux_in(self.solved, bodies, across, at, lambda name: progress(name, 0.5)))

    def _once(self, key: object, make: Callable[[], T]) -> T:
        if key not in self._made:
            self._made[key] = make()
        found: T = self._made[key]
        return found
