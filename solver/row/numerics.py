"""The numbers of the row solver that trade time for digits, in one record.

What each of them costs is in docs/measured.md ("Numerical settings"); `python tests/run.py settings` prints it anew.
"""

from __future__ import annotations

from dataclasses import dataclass

from stringflux.geometry.rules import Rule, above, between, check, even, whole

from ..coil.air import ANGLES, POINTS

BAND = (20.0, 20e3)
"""Band in which meshes resolve the skin, Hz."""
_MOST_ORDERS = 21
"""r^m times a polynomial loses all digits beyond."""


@dataclass(frozen=True, kw_only=True)
class RowNumerics:
    """Numerical settings of a row of poles.

    Attributes
    ----------
    orders : int
        Azimuthal orders of the row: 0, 1 and 2; what each brings is shown in docs/measured.md.
    tolerance : float
        Of the coupling: rounds end when no pole's charges move by more, in parts of their norm.
    steel : float
        Newton's tolerance of poles with steel, in parts of that of magnets alone. A residual is an H: in steel it
        stands for a B some hundred times as far off.
    angles : int
        Points around each of two poles that are a pitch apart, even; fewer than twice the orders do not tell those
        apart.
    answer_orders : int
        Azimuthal orders of a pole's answer to a string.
    close_orders : (int, int)
        The same to a string close over the face, least and most: what lies between goes by the face's radius.
    modes : float
        Singular values of what strings make at a pole, in parts of the largest, from which they are kept: those below
        change λ by less than 1e-4.
    skin : float
        Depth under the face, m, down to which a string's fields are taken at the unknowns themselves.
    skin_radii : float
        Radii of the near rings under that, per metre of the pole's radius.
    far_radii, far_heights : int
        Rings that neighbours see, in every part.
    table_heights : float
        Ratio of heights of the field table, less 1.
    table_growth : float
        By what factor the table's steps grow away from the face's edge.
    close : float
        Poles with their axis nearer than this to a string are sampled at all its nodes, m.
    end_angles : int
        Gauss points of a coil's half-circle ends, each way from the kink (:mod:`..coil.air`).
    winding_points : int
        Gauss points per direction of the winding, for the inductance in air.
    coil_radii, coil_heights, coil_angles : int
        Samples of the coil's field in a pole: radii, heights a panel, angles on the half circle by the midpoint rule
        (7 are exact to cos 13α).

    Raises
    ------
    InputError
        For a value that cannot be.
    """

    orders: int = 3
    tolerance: float = 1e-4
    steel: float = 0.01
    angles: int = 8
    answer_orders: int = 3
    close_orders: tuple[int, int] = (13, 21)
    modes: float = 3e-5
    skin: float = 0.8e-3
    skin_radii: float = 3.3e3
    far_radii: int = 4
    far_heights: int = 14
    table_heights: float = 0.2
    table_growth: float = 1.15
    close: float = 8e-3
    end_angles: int = ANGLES
    winding_points: int = POINTS
    coil_radii: int = 4
    coil_heights: int = 9
    coil_angles: int = 7

    def __post_init__(self) -> None:
        check(self, orders=whole(1, _MOST_ORDERS), tolerance=between(0.0, 0.1), steel=between(0.0, 1.0),
              answer_orders=whole(1, _MOST_ORDERS), close_orders=_CLOSE_ORDERS, modes=between(0.0, 0.1),
              skin=above(0.0, "m"), skin_radii=above(0.0), far_radii=whole(1), far_heights=whole(2),
              table_heights=above(0.0), table_growth=above(1.0), close=above(0.0, "m"), end_angles=whole(1),
              winding_points=whole(1), coil_radii=whole(1), coil_heights=whole(2))
        # after the orders themselves: so many points are needed to tell them apart
        check(self, angles=even(2 * self.orders), coil_angles=whole(self.orders))


def _are_close_orders(value: object) -> bool:
    return (isinstance(value, tuple) and len(value) == 2 and all(whole(1, _MOST_ORDERS).holds(v) for v in value)
            and value[0] <= value[1])


_CLOSE_ORDERS = Rule(words=f"two whole numbers from 1 to {_MOST_ORDERS}, the second at least the first",
                     holds=_are_close_orders)


SHIPPED = RowNumerics()
"""What the program takes when it is told nothing else."""
