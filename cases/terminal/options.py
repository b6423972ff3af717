"""Options that several commands share, and how they are read: `--quality` is checked here, `--set` on request.

A command says its options once, as a frozen record; :func:`said_in` makes the function of it that typer wants::

    @dataclass(frozen=True, kw_only=True)
    class VerifyOptions(CaseOptions):
        string: Annotated[int | None, typer.Option("--string", help="...")] = None

    @said_in(VerifyOptions)
    def verify(options: VerifyOptions) -> None: ...

In the help the case comes first (after a `name`), then what is the command's own, then what is common, in the order
of :data:`LAST`.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import MISSING, dataclass, fields
from functools import cached_property, wraps
from typing import TYPE_CHECKING, Annotated, Any, TypeVar, get_type_hints

import typer

from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import shown

from .field import UNITS, known_units
from .quantities import read_pluck, read_sine

if TYPE_CHECKING:
    from stringflux.postprocess.plucked.modes import Pluck
    from stringflux.postprocess.plucked.sine import Sine

QUALITIES = ("draft", "normal", "fine")


def cases_that_begin(incomplete: str) -> list[str]:
    """For the shell that completes a line; where no name fits it offers files."""
    from ..files.load import shipped_cases

    return [name for name in shipped_cases() if name.startswith(incomplete)]


def _known_quality(given: str) -> str:
    """The quality, if there is one of that name; asked before the command itself begins."""
    if given not in QUALITIES:
        raise CaseError(f"--quality: received {shown(given)}; write {', '.join(QUALITIES)}")
    return given


def _qualities_that_begin(incomplete: str) -> list[str]:
    return [name for name in QUALITIES if name.startswith(incomplete)]


Which = Annotated[
    str,
    typer.Argument(
        metavar="CASE", help="A case file or a shipped case.", show_default=False, autocompletion=cases_that_begin
    ),
]
Verbose = Annotated[
    int, typer.Option("-v", "--verbose", count=True, show_default=False, help="Say more; -vv: tracebacks.")
]
Changes = Annotated[
    list[str] | None,
    typer.Option(
        "--set",
        metavar="KEY=VALUE",
        show_default=False,
        help="Use another value than the file's: --set coil.turns=6500, --set 'string.2.gap=2 mm'.",
    ),
]
Json = Annotated[bool, typer.Option("--json", help="Print one JSON document and nothing else.")]
Out = Annotated[
    str | None, typer.Option("--out", metavar="DIR", show_default=False, help="Folder for the results.")
]
Quality = Annotated[
    str,
    typer.Option("--quality", metavar="|".join(QUALITIES), help="How fine the meshes are.",
                 autocompletion=_qualities_that_begin, callback=_known_quality),
]
STEELS = ("played", "new", "curve")


def _known_steel(given: str | None) -> str | None:
    if given is not None and given not in STEELS:
        raise CaseError(f"--steel: received {shown(given)}; write {', '.join(STEELS)}")
    return given


Steel = Annotated[
    str | None,
    typer.Option("--steel", metavar="|".join(STEELS), show_default=False, callback=_known_steel,
                 help="What the strings' steel remembers, in place of the case's strings.state; curve: nothing."),
]
Units = Annotated[
    str,
    typer.Option("--units", metavar="|".join(UNITS), callback=known_units,
                 help="Fields in mT (si), in gauss (trade), or in both."),
]
Force = Annotated[bool, typer.Option("--force", help="Replace a file that is there.")]

PluckBy = Annotated[
    str | None,
    typer.Option("--pluck", metavar="LENGTH", show_default=False, help="Displacement; 1mm if left out."),
]
PluckForce = Annotated[
    str | None, typer.Option("--force", metavar="FORCE", show_default=False, help="Or equal force, such as 1N.")
]
PluckAt = Annotated[str, typer.Option("--at", metavar="PART", help="Where, as a part of the string from the bridge.")]
PluckAngle = Annotated[
    str, typer.Option("--angle", metavar="ANGLE", help="0deg: across the strings; 90deg: off the top plate.")
]

Workers = Annotated[
    int | None,
    typer.Option("--workers", metavar="N", show_default=False, help="Processes here; all cores if left out."),
]
Cluster = Annotated[
    str | None,
    typer.Option("--cluster", metavar="ADDRESS", show_default=False, help="Compute on a running Dask scheduler."),
]
Resume = Annotated[bool, typer.Option("--resume", help="Go on with a study that was stopped.")]
Retry = Annotated[bool, typer.Option("--retry", help="The same, and try again whatever failed.")]
Yes = Annotated[bool, typer.Option("--yes", help="Do not ask before very many designs.")]


LAST = ("out", "quality", "given", "steel", "workers", "cluster", "resume", "retry", "yes", "json", "solver",
        "verbose")
"""Names of what the help of a command ends with."""

O = TypeVar("O")


@dataclass(frozen=True, kw_only=True)
class ReadOptions:
    """What the command line says of a case that is read; None or empty where it says nothing."""

    which: Which
    given: Changes = None
    verbose: Verbose = 0

    @cached_property
    def changes(self) -> dict[str, Any]:
        """What the options change of the file, by dotted path."""
        return read_changes(self.given)


@dataclass(frozen=True, kw_only=True)
class StringOptions(ReadOptions):
    """The same of a case whose strings are computed."""

    quality: Quality = "normal"
    steel: Steel = None

    @cached_property
    def changes(self) -> dict[str, Any]:
        """What the options change of the file, by dotted path."""
        return read_changes(self.given) | ({"strings.state": self.steel} if self.steel else {})


@dataclass(frozen=True, kw_only=True)
class CaseOptions(StringOptions):
    """The same of a command that can print one document."""

    json: Json = False


@dataclass(frozen=True, kw_only=True)
class OutOptions(CaseOptions):
    """The same of a command that can write a folder."""

    out: Out = None


@dataclass(frozen=True, kw_only=True)
class TapOptions:
    """At which tap of the case the coil is taken; None for all its turns."""

    tap: Annotated[str | None, typer.Option(
        "--tap", metavar="TURNS", show_default=False,
        help="As a coil is at a tap of the case: its inner turns alone. Of several coils: 'lower: 4000'.")] = None


@dataclass(frozen=True, kw_only=True)
class PluckOptions:
    """How strings are plucked."""

    pluck: PluckBy = None
    force: PluckForce = None
    at: PluckAt = "1/8"
    angle: PluckAngle = "45deg"

    def read(self) -> Pluck:
        """As the strings are told."""
        return read_pluck(self.pluck, self.force, self.at, self.angle)


@dataclass(frozen=True, kw_only=True)
class MotionOptions:
    """How strings are moved: plucked, or driven by a sine. None where the command line says nothing."""

    drive: Annotated[str | None, typer.Option("--drive", metavar="pluck|sine", show_default=False,
                                              help="Plucked if left out.")] = None
    amplitude: Annotated[str | None, typer.Option("--amplitude", metavar="LENGTH", show_default=False,
                                                  help="Of a sine; 0.5mm if left out.")] = None
    frequency: Annotated[str | None, typer.Option("--frequency", metavar="FREQUENCY", show_default=False,
                                                  help="Of a sine; each string's pitch if left out.")] = None
    pluck: PluckBy = None
    force: PluckForce = None
    at: Annotated[str | None, typer.Option("--at", metavar="PART", show_default=False,
                                           help="Of a pluck: as a part of the string from the bridge; 1/8.")] = None
    angle: Annotated[str | None, typer.Option("--angle", metavar="ANGLE", show_default=False,
                                              help="0deg across the strings, 90deg off the top plate.")] = None

    def motion(self) -> Pluck | Sine:
        """As the strings are told.

        Raises
        ------
        CaseError
            For an option of the other drive, or a value that cannot be.
        """
        if self.drive not in (None, "pluck", "sine"):
            raise CaseError(f"--drive: received {shown(self.drive)}; write pluck, sine")
        sine = self.drive == "sine"
        foreign = ("pluck", "force", "at") if sine else ("amplitude", "frequency")
        for name in foreign:
            if getattr(self, name) is not None:
                raise CaseError(f"--{name}: it belongs to --drive {'pluck' if sine else 'sine'}; write that, or "
                                "leave it out")
        if sine:
            return read_sine(self.amplitude, self.frequency, self.angle or "90deg")
        return read_pluck(self.pluck, self.force, self.at or "1/8", self.angle or "45deg")


@dataclass(frozen=True, kw_only=True)
class StudyOptions(OutOptions):
    """The same of a study of many designs, and where they are computed."""

    workers: Workers = None
    cluster: Cluster = None
    resume: Resume = False
    retry: Retry = False


def said_in(record: type[O]) -> Callable[[Callable[[O], None]], Callable[..., None]]:
    """A command of one record as a function of all its fields, from which typer reads arguments and options."""
    hints = get_type_hints(record, include_extras=True)
    # dataclasses list what is inherited first; the sort keeps the order of equals
    order = sorted(fields(record), key=lambda f: (  # type: ignore[arg-type]
        f.name != "name", f.name != "which", LAST.index(f.name) + 1 if f.name in LAST else 0))
    signature = inspect.Signature([
        inspect.Parameter(f.name, inspect.Parameter.KEYWORD_ONLY, annotation=hints[f.name],
                          default=inspect.Parameter.empty if f.default is MISSING else f.default)
        for f in order])

    def of_fields(command: Callable[[O], None]) -> Callable[..., None]:
        @wraps(command)
        def said(**options: Any) -> None:
            command(record(**options))

        said.__signature__ = signature  # type: ignore[attr-defined]
        said.__annotations__ = {f.name: hints[f.name] for f in order}
        return said

    return of_fields


@contextmanager
def as_options() -> Iterator[None]:
    """Inside, what a record of settings refuses is said of the option of that name."""
    try:
        yield
    except CaseError as error:
        name, colon, rest = str(error).partition(":")
        said = name if name.startswith("--") else f"--{name.replace('_', '-')}"
        raise CaseError(f"{said}{colon}{rest}") from None


def read_changes(given: Sequence[str] | None) -> dict[str, Any]:
    """``["coil.turns=6500", "string.2.gap=2 mm"]`` as keys and values; a value that is no TOML is text."""
    import tomllib

    changes: dict[str, Any] = {}
    for text in given or ():
        key, equals, value = (part.strip() for part in text.partition("="))
        if text.encode("utf-8", "replace") != text.encode("utf-8", "surrogatepass"):  # half characters
            raise CaseError(f"--set: received {shown(text)}, which is not UTF-8 text; write it in UTF-8")
        if not key or not equals or not value:
            raise CaseError(f"--set: received {shown(text)}; write KEY=VALUE, for example coil.turns=6500")
        try:
            read = tomllib.loads(f"value = {value}")
        except (ValueError, RecursionError):
            read = {"value": value}
        changes[key] = read["value"] if len(read) == 1 else value
    return changes
