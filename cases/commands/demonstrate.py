"""`stringflux demonstrate`: one law of induction on a case, for a class to see, hear, measure and work out."""

from __future__ import annotations

import sys
from contextlib import ExitStack
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Annotated, Any

import typer

from stringflux.geometry.errors import CaseError

from ..output.document import document
from ..output.folder import replaced_folder
from ..terminal.options import OutOptions, as_options, said_in
from ..terminal.progress import shown_progress
from ..terminal.quantities import read_quantity
from ..terminal.tables import console
from ..terminal.words import print_oddities

if TYPE_CHECKING:
    from ..demonstrations.names import Known
    from ..demonstrations.settings import LessonSettings

LIST = "list"
_QUANTITIES = {"amplitude": "length", "frequency": "frequency", "field": "flux density", "mains": "frequency"}


@dataclass(frozen=True, kw_only=True)
class DemonstrateOptions(OutOptions):
    """What the command line says; None where it says nothing."""

    name: Annotated[str, typer.Argument(metavar="NAME", help="Which; `stringflux demonstrate list` tells.",
                                        show_default=False)]
    which: Annotated[str, typer.Argument(
        metavar="[CASE]", help="A case file or a shipped case; one that suits it if left out.",
        show_default=False)] = ""
    string: Annotated[int | None, typer.Option("--string", metavar="N", show_default=False,
                                               help="The string, from 1.")] = None
    amplitude: Annotated[str | None, typer.Option("--amplitude", metavar="LENGTH", show_default=False,
                                                  help="Of the string's swing, up and down: 0.5mm.")] = None
    frequency: Annotated[str | None, typer.Option("--frequency", metavar="FREQUENCY", show_default=False,
                                                  help="Of the swing; the string's pitch if left out.")] = None
    drive: Annotated[str | None, typer.Option("--drive", metavar="sine|pluck", show_default=False,
                                              help="How the string is moved; sine if left out.")] = None
    field: Annotated[str | None, typer.Option("--field", metavar="FIELD", show_default=False,
                                              help="Of the mains, rms: 0.1uT.")] = None
    mains: Annotated[str | None, typer.Option("--mains", metavar="FREQUENCY", show_default=False,
                                              help="50Hz or 60Hz.")] = None


@said_in(DemonstrateOptions)
def demonstrate(options: DemonstrateOptions) -> None:
    """Everything that can be refused is refused before the computation starts."""
    from ..demonstrations.names import KNOWN, computed, known, read_case

    if options.name == LIST:
        for name, one in KNOWN.items():
            print(f"{name:16}{one.says}")
        return
    one, json, out = known(options.name), options.json, options.out
    asked = _asked(options, one)
    which = options.which or one.case
    case, source = read_case(one, which, options.changes)
    with ExitStack() as stack:
        folder = None
        if out is not None:
            from ..demonstrations.written import KIND

            folder = stack.enter_context(replaced_folder(out, KIND))
        with shown_progress(bar_only=json) as progress:
            made = computed(options.name, case, asked, options.quality, progress)

            def text(names: list[str]) -> str:
                return document("demonstrate", case, source, {"name": made.name, "asked": asked, "found": made.found},
                                one.units, names)

            if folder is not None:
                from ..demonstrations.written import write_demonstration

                write_demonstration(folder, made, text, progress)
        sys.stdout.write(text([]) if json else made.text())
        if not json:
            from stringflux.geometry.case.model import Case

            if isinstance(case, Case):  # some have a case of their own kind
                print_oddities(case, console())
        sys.stdout.flush()
    words = sys.stderr if json else sys.stdout
    if out is not None:
        print(f"Results: {out}. Open moving.html in a browser.", file=words)
    elif not json:
        print("With --out DIR the moving picture, slides, tables and sounds are written there.")


def _asked(options: DemonstrateOptions, one: Known) -> LessonSettings:
    """What is asked, in SI.

    Raises
    ------
    CaseError
        For an option that this demonstration makes nothing of, or a value that cannot be.
    """
    from ..demonstrations.settings import LessonSettings

    given = {f.name: getattr(options, f.name) for f in fields(LessonSettings) if getattr(options, f.name) is not None}
    for name in given:
        if name not in one.takes:
            takes = (f"it takes {', '.join(f'--{t}' for t in one.takes)}" if one.takes else
                     "change its case with --set")
            raise CaseError(f"--{name}: the demonstration {options.name} makes nothing of it; {takes}")
    with as_options():
        read: dict[str, Any] = {
            name: read_quantity(f"--{name}", value, _QUANTITIES[name])[0] if name in _QUANTITIES else value
            for name, value in given.items()}
        return LessonSettings(**read)
