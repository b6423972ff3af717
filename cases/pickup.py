"""A pickup: a case with its solution, and every figure of it as a record in SI, made when it is asked for, and once.

    pickup = solve(load_case("baritone-six"))
    pickup.prediction().strings[0].sensitivity

Records draw themselves: ``record.plot(ax, what)`` one panel on matplotlib axes, its own if none are given;
``record.figures()`` what the command writes. :meth:`Pickup.with_` keeps all that a change does not touch.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from stringflux.geometry.reading.read import changed_case
from stringflux.postprocess.coil.winding import Winding
from stringflux.postprocess.plucked.modes import PLUCK, Damping, Pluck
from stringflux.postprocess.plucked.signal import SECONDS
from stringflux.postprocess.plucked.sine import Sine
from stringflux.solver.aside import aside

from .files.load import built_in_uses
from .pickup_fields import PickupFields, Progress, nobody
from .solved.abstract import SolvedCase
from .solved.solve import solved_case
from .solved.windings import coil_windings

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from stringflux.postprocess.demonstrations.record import Demonstration
    from stringflux.postprocess.plucked.sensed import PlayedString, SensedString
    from stringflux.postprocess.records.neighbours import NeighbourEffect
    from stringflux.postprocess.records.turns import QuarterTurn
    from stringflux.postprocess.results import FieldPicture, Linkage, MaterialCurve, Prediction, Signals
    from stringflux.postprocess.results.loop import StringLoop

    from .jobs.estimate import Estimate
    from .jobs.hum import Hum
    from .jobs.impedance import Impedance
    from .jobs.neighbours import LoneString
    from .jobs.plucked import Pulls
    from .live.notebook import LivePage


class Pickup(PickupFields):
    """A case with its solution; made by :func:`.solving.solve`.

    Attributes
    ----------
    case : Case
    quality : str
        "draft", "normal" or "fine".
    solver : {"row", "solid", "plane"}
    solved : SolvedCase
        For work on the fields themselves: ``pickup.solved.solution().field``.
    """

    def __init__(self, solved: SolvedCase, asked: str = "auto") -> None:
        super().__init__(solved)
        self._asked = asked
        self._alone: Callable[[], tuple[LoneString, ...]] | None = None
        self.case, self.quality, self.solver = solved.case, solved.quality, solved.choice.solver

    def prediction(self, *, maps: bool = True, progress: Progress = nobody, neighbours: bool = False) -> Prediction:
        """Field, linkage, sensitivity and balance of every string, with the maps of ± 2 mm where `maps`.

        `neighbours`: :meth:`neighbours` is asked next, so that it may begin meanwhile, on another core.

        Raises
        ------
        SolveError
            Where the solution does not settle.

        Examples
        --------
        >>> from stringflux.cases import load_case, solve
        >>> found = solve(load_case("bench-single"), quality="draft").prediction(maps=False)
        >>> round(float(found.strings[0].bias[2]), 3)  # T
        0.062
        """
        from .jobs.prediction import prediction_of

        return self._once(("prediction", maps), lambda: prediction_of(
            self.solved, progress=progress, maps=maps,
            over_strings=self._begin_neighbours if neighbours else lambda: None))

    def _begin_neighbours(self) -> None:
        from .jobs.neighbours import strings_alone

        self._alone = aside(lambda: strings_alone(self.solved), most=2)

    def quarter_turns(self, stage: Callable[[str], None] = lambda name: None) -> tuple[QuarterTurn, ...]:
        """What a quarter of a turn of every screw whose thread the case gives does to the strings, dB."""
        from .jobs.turns import quarter_turns as of

        return self._once("quarter turns", lambda: of(self.solved, stage))

    def neighbours(self) -> tuple[NeighbourEffect, ...]:
        """What the other strings do to λ and S of each: among them, as all other figures have it, over alone."""
        from .jobs.neighbours import neighbours_of

        return self._once("neighbours", lambda: neighbours_of(self.solved, self._alone))

    def estimate(self, before: Pickup) -> Estimate:
        """A first look at the strings, by a pickup of poles of the same form: in a fifth of a prediction's time.

        Raises
        ------
        InputError
            Where there is none.
        """
        from .jobs.estimate import Estimate

        return Estimate(self.solved, before.solved, before.prediction(maps=False))

    def linkage(self, string: int = 1, progress: Progress = nobody) -> Linkage:
        """λ of a string (from 1) over its displacement, up to ± 2 mm, its steel without memory.

        Raises
        ------
        InputError
            Where there is no such string.

        Examples
        --------
        >>> from stringflux.cases import load_case, solve
        >>> pickup = solve(load_case("bench-single"), quality="draft")
        >>> _, up = pickup.linkage(1).slopes()  # at rest: S as it would be on one curve
        >>> round(float(abs(up)) / pickup.prediction().strings[0].sensitivity_curve, 2)
        1.0
        """
        from stringflux.postprocess.results.each import numbered
        from stringflux.postprocess.results.linkage import Linkage

        return Linkage(string=numbered(string, self.prediction(progress=progress).strings))

    def picture(self, plane: str = "along", string: int = 1) -> FieldPicture:
        """B₀, lines of equal flux and what strings add in a plane: "along", a plain row as seen along the strings, or
        "side", through the pole of `string`. Errors as of :meth:`linkage`."""
        from .jobs.picture import picture_of as of

        return self._once(("picture", plane, string), lambda: of(self.solved, plane, string, self.prediction))

    def impedance(self, progress: Progress = nobody) -> Impedance:
        """The coils at their terminals over the band, and what controls, cable and amplifier make of them.

        Examples
        --------
        >>> from stringflux.cases import load_case, solve
        >>> found = solve(load_case("bench-single"), quality="draft").impedance()
        >>> bool(abs(found.circuit.impedance(1e3)) > found.circuit.resistance)  # Ω
        True
        """
        from .jobs.impedance import impedance_of

        return self._once("impedance", lambda: impedance_of(self.solved, progress))

    def hum(self, progress: Progress = nobody) -> Hum:
        """Areas for uniform fields, m², and voltages of swinging strings to compare with.

        Examples
        --------
        >>> from stringflux.cases import load_case, solve
        >>> found = solve(load_case("bench-single"), quality="draft").hum()
        >>> found.area.voltage(1e-6, 50.0) > 0  # V in a microtesla
        True
        """
        from .jobs.hum import hum_of

        return self._once("hum", lambda: hum_of(self.solved, progress))

    def pull(self, progress: Progress = nobody) -> Pulls:
        """How the magnets pull every string, and what that does to its pitch.

        Raises
        ------
        CaseError
            Without `bridge_distance` in the case.
        """
        from .jobs.plucked import pulls_of

        return self._once("pull", lambda: pulls_of(self.solved, progress))

    def sensed(self, *, damping: Damping | None = None, every: bool = False,
               progress: Progress = nobody) -> tuple[SensedString, ...]:
        """Every string over the coils, ready to be plucked; `every` with coils whose ends are open.

        Raises
        ------
        CaseError
            Without `bridge_distance` in the case, or without a charged magnet.
        """
        from .jobs.plucked import sensed_strings

        return self._once(("sensed", damping, every), lambda: sensed_strings(
            self.solved, damping=damping, every=every, progress=progress))

    def signal(self, pluck: Pluck | Sine = PLUCK, *, loaded: bool = False, every: bool = False,
               seconds: float = SECONDS, damping: Damping | None = None, progress: Progress = nobody) -> Signals:
        """All strings plucked alike, or driven by a sine, for so many seconds: V over s.

        Parameters
        ----------
        loaded : bool
            The voltage at the amplifier, by way of eddy currents, winding, controls and cable; else that of the coil
            in an open circuit without eddy currents.
        every : bool
            Also told of coils whose ends are open; a load hears them in any case.

        Raises
        ------
        CaseError
            When a string swings out of what is computed, or `bridge_distance` is missing.

        Examples
        --------
        >>> from stringflux.cases import Pluck, load_case, solve
        >>> pickup = solve(load_case("bench-single"), quality="draft")
        >>> soft, hard = (pickup.signal(Pluck(displacement=d)) for d in (0.5e-3, 1e-3))
        >>> 1.9 < hard[0].signal.peak / soft[0].signal.peak < 2.3
        True
        """
        from stringflux.postprocess.results.signals import Signals

        def play() -> Signals:
            sensed = self.sensed(damping=damping, every=every or loaded, progress=progress)
            played = self._plucked(sensed, pluck, loaded, 1, seconds, progress)
            return Signals(strings=played, pluck=pluck, loaded=loaded)

        return self._once(("signal", pluck, loaded, every, seconds, damping), play)

    def played(self, string: int, pluck: Pluck = PLUCK, *, loaded: bool = False,
               progress: Progress = nobody) -> PlayedString:
        """One string, by its number from 1, as :meth:`signal` has it, without the others.

        Raises
        ------
        InputError
            Where there is no such string; else as of :meth:`signal`.
        """
        from stringflux.postprocess.results.each import numbered

        from .jobs.plucked import sensed_strings

        def play() -> PlayedString:
            numbered(string, self.solved.strings)
            sensed = sensed_strings(self.solved, every=loaded, string=string, progress=progress)
            return self._plucked(sensed, pluck, loaded, string, SECONDS, progress)[0]

        return self._once(("played", string, pluck, loaded), play)

    def _plucked(self, sensed: tuple[SensedString, ...], pluck: Pluck | Sine, loaded: bool, first: int,
                 seconds: float, progress: Progress) -> tuple[PlayedString, ...]:
        from .jobs.plucked import played_loaded, played_open

        if not loaded:
            return played_open(sensed, pluck, first, seconds)
        ends = self._once("ends", lambda: self.solved.at_ends(progress))
        return played_loaded(sensed, pluck, ends, self.case.load, first, seconds)

    def loop(self, string: int, amplitude: float = 1e-4, *, moved: tuple[float, float] = (0.0, 0.0)) -> StringLoop:
        """A string, by its number from 1, swung up and down with `amplitude` m: λ over its place, S, lag, harmonics.

        S of :meth:`prediction` is that of 0.1 mm. `moved`: the string put elsewhere, across and up, m. The metal
        remembers what the case's `strings.state` says.

        Raises
        ------
        InputError
            For a string that is none, a pickup without a magnet, or an amplitude that there is no room for.

        Examples
        --------
        >>> from stringflux.cases import load_case, solve
        >>> loop = solve(load_case("bench-single"), quality="draft").loop(1)
        >>> 0.045 < loop.sensitivity < 0.055
        True
        """
        from .jobs.loop import loop_of, swung_of

        swung = self._once(("swung", string, moved), lambda: swung_of(self.solved, string, moved))
        return self._once(("loop", string, moved, amplitude), lambda: loop_of(string, swung, amplitude))

    def winding(self, temperature: float | None = None) -> tuple[Winding, ...]:
        """What to wind for every coil, the copper at `temperature` °C or as warm as the case; nothing is solved."""
        return self._once(("winding", temperature), lambda: coil_windings(self.case, temperature))

    def shares(self) -> dict[str, float]:
        """What share of its voltage each coil, by name, has in that of the terminals; 0 with open ends."""
        return self._once("shares", self.solved.shares)

    def materials(self) -> dict[str, MaterialCurve]:
        """The curve of every material that the case uses, by name; nothing is solved for it."""
        from stringflux.postprocess.results.material import material_curve

        return self._once("materials", lambda: {n: material_curve(m) for n, m in self.solved.materials.items()})

    def drawing(self) -> Figure:
        """The pickup and its strings to scale, with dimensions; nothing is solved for it."""
        from stringflux.postprocess.drawings.to_scale import drawing

        return drawing(self.case)

    def demonstrate(self, name: str, progress: Progress = nobody, **asked: Any) -> Demonstration:
        """A law of induction on this pickup, for a class: "string", "three-coils" or "hum".

        `asked`: what :class:`.demonstrations.settings.LessonSettings` holds, in SI; errors as of :meth:`loop`.
        """
        from .demonstrations.names import of_pickup
        from .demonstrations.settings import LessonSettings

        return of_pickup(self, name, LessonSettings(**asked), progress)

    def live(self) -> LivePage:
        """The live page of this pickup in a frame of the notebook; it ends with that, or by its `stop()`."""
        from .live.notebook import LivePage

        return LivePage(self.case)

    def with_(self, changes: Mapping[str, Any] | None = None, *, quality: str = "") -> Pickup:
        """The same pickup with some values of its case, or its quality, changed.

        Parameters
        ----------
        changes : mapping of str to object
            As a case file writes them, or floats in SI, by dotted path with items counted from 1:
            ``{"string.1.gap": "2 mm", "pole.1.part.1.material": "alnico-2"}``.

        Raises
        ------
        CaseError
            Where a value cannot be; one sentence.

        Examples
        --------
        >>> from stringflux.cases import load_case, solve
        >>> pickup = solve(load_case("bench-single"), quality="draft")
        >>> closer = pickup.with_({"string.1.gap": "2 mm"})  # the row is not solved again
        >>> more = closer.prediction(maps=False).strings[0].sensitivity
        >>> more > pickup.prediction(maps=False).strings[0].sensitivity
        True
        """
        case = changed_case(self.case, changes or {}, materials=built_in_uses())
        return Pickup(solved_case(case, quality or self.quality, solver=self._asked, keep=self.solved.keep,
                                  numerics=self.solved.numerics), self._asked)
