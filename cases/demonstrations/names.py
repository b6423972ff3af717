"""The demonstrations by name: what each shows, and what it is shown on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib import import_module
from typing import TYPE_CHECKING, Any

from stringflux.geometry.case.keys import near
from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import shown

if TYPE_CHECKING:
    from stringflux.postprocess.demonstrations.record import Demonstration

    from ..output.document import CaseSource
    from ..pickup import Pickup
    from ..pickup_fields import Progress
    from .settings import LessonSettings


@dataclass(frozen=True, kw_only=True)
class Known:
    """A demonstration.

    Attributes
    ----------
    home : str
        Module with its function ``demonstrate(pickup, asked, progress)``; of one with a case of its own
        ``demonstrate(case, quality, progress)`` and ``read(which, changes)``.
    says : str
    case : str
        The shipped case that it is shown on if none is given.
    takes : tuple of str
        Which fields of :class:`.settings.LessonSettings` mean something to it.
    own_case : bool
        Whether it has a case of its own kind.
    units : mapping
        SI units of what it finds, as of :func:`..output.document.document`.
    """

    home: str
    says: str
    case: str = "bench-single"
    takes: tuple[str, ...] = ()
    own_case: bool = False
    units: Mapping[str, Any] = field(default_factory=dict)


_LOOP = {**dict.fromkeys(("amplitude", "moved"), "m"), "linkage": "Wb", "sensitivity": "V s/m", "lag": "rad",
         "angle": "rad", "heat": "J"}
_SWING = {"found": {**dict.fromkeys(("gap", "amplitude", "place", "nearer", "farther"), "m"), "frequency": "Hz",
                    "time": "s", "linkage": "Wb", "magnet_flux": "Wb", "wide": "m, Wb", "emf": "V", "slope": "V s/m",
                    **dict.fromkeys(("loop", "small", "large", "near", "far"), _LOOP)}}
_COIL = {**dict.fromkeys(("inductance", "string_inductance"), "H"),
         **dict.fromkeys(("magnet_flux", "string_flux", "per_turn"), "Wb"), "sensitivity": "V s/m", "emf": "V"}
_COILS = {"found": {**dict.fromkeys(("gap", "amplitude", "place"), "m"), "frequency": "Hz", "time": "s",
                    "inductance_air": "H", "bias": "T", "charged": "V s/m",
                    **dict.fromkeys(("bare", "core", "magnet"), _COIL)}}

_PEAK = {"t": "s", "z": "m", "speed": "m/s", "e": "V"}
_PASSAGE = {"found": {
    "resistance": "ohm", "mass": "kg", **dict.fromkeys(("heights", "z"), "m"), "t": "s", "v": "m/s", "e": "V",
    **dict.fromkeys(("linkage_at", "bare_at", "linkage"), "Wb"), **dict.fromkeys(("first", "second"), _PEAK),
    "others": {"starts": "m", "first": _PEAK, "second": _PEAK}, "braked": "N s/m",
    "brake": {"z": "m", "below": "N s/m", "recession": "m/s"}, "anew": "m, 1",
    "magnet": {"magnetisation": "A/m", "demagnetising": "A/m", "flux_density": "T", "volume": "m^3",
               "moment": "A m^2"}}}
_TOOTH = {"gap": "m", "angles": "rad", "linkage": "Wb"}
_TURNED = {"found": {
    **dict.fromkeys(("length", "radius", "pitch", "tooth"), "m"), "alone": "Wb", "own": _TOOTH, "gaps": _TOOTH,
    "speeds": {"speed": "1/s", "frequency": "Hz", "way": "m/s", "peak": "V", "skin": "m"},
    "time": "s", "angle": "rad", "linkage": "Wb", "emf": "V"}}

_HUM = {"found": {**dict.fromkeys(("field", "flux_density", "fields"), "T"), "frequency": "Hz", "time": "s",
                  **dict.fromkeys(("turn_area", "turns_area", "poles_area"), "m^2"),
                  **dict.fromkeys(("per_turn", "linkage"), "Wb"), **dict.fromkeys(("apart", "swing"), "m"),
                  **dict.fromkeys(("emf", "other_emf", "left_emf", "voltage", "left", "signal", "hums"), "V")}}

KNOWN = {
    "string": Known(home=".string", says="a string over its pole: place, Φ, N Φ and e on one clock",
                    takes=("string", "amplitude", "frequency", "drive"), units=_SWING),
    "three-coils": Known(home=".three_coils", says="one coil bare, with a steel core, with a magnet: L, Φ, S",
                         takes=("string", "amplitude", "frequency"), units=_COILS),
    "hum": Known(home=".hum", says="the coil in a field of the mains: N A ω B, and two coils that cancel",
                 takes=("string", "field", "mains"), units=_HUM),
    "falling-magnet": Known(home=".falling_magnet", own_case=True, case="falling-magnet", units=_PASSAGE,
                            says="a magnet that falls, or is moved, through a coil: Φ, e, peaks and areas"),
    "tooth-wheel": Known(home=".tooth_wheel", own_case=True, case="tooth-wheel", units=_TURNED,
                         says="a toothed wheel past a magnet with a coil: λ, e, speed and gap"),
}


def known(name: str) -> Known:
    """The demonstration of that name.

    Raises
    ------
    CaseError
        For another name; one sentence.
    """
    if name not in KNOWN:
        raise CaseError(f"there is no demonstration {shown(name)}{near(name, KNOWN)}; the demonstrations are "
                        f"{', '.join(KNOWN)}")
    return KNOWN[name]


def read_case(one: Known, which: str, changes: Mapping[str, Any]) -> tuple[Any, CaseSource]:
    """The case of a demonstration, and where it came from.

    Raises
    ------
    CaseError
    """
    if one.own_case:
        found: tuple[Any, CaseSource] = _home(one).read(which, changes)
        return found
    from ..files.load import load_case
    from ..output.document import case_source

    return load_case(which, changes), case_source(which, changes)


def computed(name: str, case: Any, asked: LessonSettings, quality: str, progress: Progress) -> Demonstration:
    """A demonstration of what :func:`read_case` gave."""
    one = known(name)
    if one.own_case:
        made: Demonstration = _home(one).demonstrate(case, quality, progress)
        return made
    from ..solving import solve

    return of_pickup(solve(case, quality=quality), name, asked, progress)


def of_pickup(pickup: Pickup, name: str, asked: LessonSettings, progress: Progress) -> Demonstration:
    """A demonstration of a pickup.

    Raises
    ------
    CaseError
        For a name that is none, or one that has a case of its own.
    """
    one = known(name)
    if one.own_case:
        raise CaseError(f"the demonstration {name} is of no pickup; `stringflux demonstrate {name}` has a case of "
                        "its own")
    made: Demonstration = _home(one).demonstrate(pickup, asked, progress)
    return made


def _home(one: Known) -> Any:
    """Its module, loaded now."""
    return import_module(one.home, __package__)
