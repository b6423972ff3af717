"""A prediction: all that is computed from a case, and how it is drawn."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING

from ..records.neighbours import NeighbourEffect
from ..records.prediction import CoilRecord, PairRecord, PoleRecord, SectionRecord, SliceRecord, StringRecord
from ..records.turns import QuarterTurn

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@dataclass(frozen=True, kw_only=True, eq=False)
class Prediction:
    """All that is computed from a case.

    Attributes
    ----------
    title, quality : str
    probe_height : float
        Height over the faces at which the poles' field is given, m.
    poles, strings : tuples of records
    coil : CoilRecord
        All coils as they are connected.
    coils : tuple of CoilRecord
        Each alone.
    pairs : tuple of PairRecord
    connection : str
        How the coils are connected, in words; "" for one coil.
    solver, why : str
        "row" or "solid", and the reason.
    section : SectionRecord, optional
        Of the first pole; only from the row solver.
    slice : SliceRecord, optional
        A plane through the first pole; only from the 3-D solver, and with the maps.
    coupling : float
        Largest relative change of a pole's magnetisation by its neighbours.
    rounds : (int, int)
        Rounds of the row's coupling, bias and signal.
    timings : dict of str to float
        Seconds by stage.
    notes : tuple of str
        What the reader should know about this prediction.
    quarter_turns : tuple of QuarterTurn
        What a quarter of a turn of each screw does, where it was asked for: each takes another solution.
    neighbours : tuple of NeighbourEffect
        What the other strings do to each, where it was asked for; the strings above have it in them.
    """

    title: str
    quality: str
    probe_height: float
    poles: tuple[PoleRecord, ...]
    strings: tuple[StringRecord, ...]
    coil: CoilRecord
    coils: tuple[CoilRecord, ...] = ()
    pairs: tuple[PairRecord, ...] = ()
    connection: str = ""
    solver: str = "row"
    why: str = ""
    section: SectionRecord | None
    slice: SliceRecord | None = None
    coupling: float
    rounds: tuple[int, int]
    timings: dict[str, float] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    quarter_turns: tuple[QuarterTurn, ...] = ()
    neighbours: tuple[NeighbourEffect, ...] = ()

    def plot(self, ax: Axes | None = None, what: str = "balance") -> Axes:
        """Draw one panel.

        Parameters
        ----------
        ax : Axes, optional
            A new figure's if left out.
        what : str
            "balance", "balance_force", "balance_displacement": levels, dB against the loudest string.
            "sensitivity": S of every string. "faces": field over the poles.
            "bias", "bias_along", "reciprocal", "reciprocal_along", "steel": along every string.
            "linkage", "linkage_across": λ over the displacement up, and across. "offset": S beside its place.
            "section": |B| and field lines through pole 1 (row solver). "slice": in a plane along the strings.

        Returns
        -------
        Axes

        Raises
        ------
        InputError
            For another panel, or one that this prediction lacks.

        Examples
        --------
        >>> from stringflux.cases import load_case, solve
        >>> found = solve(load_case("bench-single"), quality="draft").prediction(maps=False)
        >>> found.plot(what="bias").get_ylabel()
        'B (mT)'
        """
        from ..figures.panel import panel

        panels, absent = self._panels()
        return panel(ax, panels, what, absent, to_scale=what in ("section", "slice"))

    def figures(self) -> dict[str, Figure]:
        """The figures that `stringflux predict` writes, by the names of its files.

        Returns
        -------
        dict of str to Figure
            "section", "fields", "linkage", "balance"; from the 3-D solver "slice" in place of "section". Without
            "linkage" and "slice" where the maps were not computed.
        """
        return {name: make() for name, make in self.figure_makers().items()}

    def figure_makers(self) -> dict[str, Callable[[], Figure]]:
        """What makes each of `figures`, for who wants some of them."""
        from ..figures.balance import balance_figure
        from ..figures.fields import fields_figure
        from ..figures.linkage import linkage_figure
        from ..figures.section import section_figure
        from ..figures.slice import slice_figure
        from ..figures.style import house_style

        makers: dict[str, Callable[[], Figure]] = {}
        if self.section is not None:
            makers["section"] = partial(section_figure, self.section, self.poles[0], self.strings)
        elif self.slice is not None:
            makers["slice"] = partial(slice_figure, self.slice, self.poles, self.strings)
        makers["fields"] = partial(fields_figure, self.strings, self.section)
        if self._mapped:
            makers["linkage"] = partial(linkage_figure, self.strings)
        makers["balance"] = partial(balance_figure, self.strings)

        def styled(make: Callable[[], Figure]) -> Figure:
            with house_style():
                return make()

        return {name: partial(styled, make) for name, make in makers.items()}

    @property
    def _mapped(self) -> bool:
        return all(s.map_linkage.size for s in self.strings)

    def _panels(self) -> tuple[dict[str, Callable[[Axes], object]], dict[str, str]]:
        """What draws each panel, and why others are not there."""
        from ..figures import balance, bar_charts, fields, linkage, section, slice

        panels: dict[str, Callable[[Axes], object]] = {
            name: partial(balance.levels, name=name, strings=self.strings) for name in balance.TITLES}
        panels["sensitivity"] = partial(bar_charts.sensitivities, strings=self.strings)
        panels |= {name: partial(fields.along, shown=shown, strings=self.strings, section=self.section)
                   for name, shown in fields.ALONG.items()}
        absent = {}
        if self.poles:
            panels["faces"] = partial(bar_charts.faces, poles=self.poles, height=self.probe_height)
        else:
            absent["faces"] = "but this pickup has no poles"
        if self._mapped:
            panels |= {"linkage": partial(linkage.up_and_down, strings=self.strings),
                       "linkage_across": partial(linkage.sideways, strings=self.strings),
                       "offset": partial(linkage.beside, strings=self.strings)}
        else:
            absent |= dict.fromkeys(("linkage", "linkage_across", "offset"), "but the maps are not computed; predict "
                                    "with maps=True")
        if self.section is not None:
            panels["section"] = partial(section.section_and_bar, section=self.section, pole=self.poles[0],
                                        strings=self.strings)
            absent["slice"] = 'but a row of poles has none; write "section"'
        elif self.slice is not None:
            panels["slice"] = partial(slice.slice_and_bar, cut=self.slice, strings=self.strings)
            absent["section"] = 'but only the row solver makes one; write "slice"'
        else:
            absent |= {"section": "but only the row solver makes one", "slice": "but the maps are not computed; "
                       "predict with maps=True"}
        return panels, absent
