"""`stringflux predict`: compute, print the tables, write the results folder."""

from __future__ import annotations

import sys
import time
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from stringflux.geometry.errors import InputError

from ..files.load import read_content
from ..files.taps import load_at_tap
from ..output.document import case_source, prediction_document
from ..output.folder import replaced_folder
from ..terminal.options import OutOptions, TapOptions, Units, said_in
from ..terminal.progress import shown_progress

if TYPE_CHECKING:
    from ..pickup import Pickup


@dataclass(frozen=True, kw_only=True)
class PredictOptions(OutOptions, TapOptions):
    """What the command line says; None where it says nothing."""

    solver: Annotated[str, typer.Option("--solver", metavar="NAME", help="auto, row, solid or plane.")] = "auto"
    units: Units = "both"
    mesh: Annotated[
        bool, typer.Option("--mesh", help="With --out: the field in space and its mesh too, as VTU and MSH.")] = False


@said_in(PredictOptions)
def predict(options: PredictOptions) -> None:
    """Everything that can be refused is refused before the computation starts."""
    begin = time.perf_counter()
    json, out = options.json, options.out
    case, changes = load_at_tap(options.which, options.changes, options.tap)
    source = case_source(options.which, changes)
    if options.mesh and out is None:
        raise InputError("--mesh writes files; add --out DIR, where they go")
    notes: tuple[str, ...] = ()
    with ExitStack() as stack:
        folder = None if out is None else stack.enter_context(replaced_folder(out))
        drawn = None
        if folder is not None:
            from ..output.pictures import drawer

            drawn = drawer(case)
        from ..solved.solid_inputs import begin_mesh  # numerics: loaded once the case is known to be good

        begin_mesh(case, options.quality, options.solver)
        from ..jobs.neighbours import neighbour_words
        from ..solving import solve

        if options.solver == "auto" and not json and not all(row.is_round for row in case.rows()):
            from ..studies.designs.effort import words_beyond_a_row

            if said := words_beyond_a_row(case, options.quality):
                print(said, flush=True)
        with shown_progress(bar_only=json) as progress:
            pickup = solve(case, quality=options.quality, solver=options.solver)
            prediction = pickup.prediction(maps=json or out is not None, progress=progress,
                                           neighbours=len(case.string) > 1)
            prediction = replace(prediction, quarter_turns=pickup.quarter_turns(lambda name: progress(name, 1.0)))
            if len(case.string) > 1:
                progress("strings beside each other", 1.0)
                beside = pickup.neighbours()
                prediction = replace(prediction, neighbours=beside,
                                     notes=(*prediction.notes, *neighbour_words(beside)))
        if not json:
            from stringflux.geometry.case.phase import pairs

            from ..terminal.lengths import written_in_inches
            from ..terminal.prediction import print_details, print_prediction
            from ..terminal.tables import console

            print_prediction(prediction, console(), [pair.sentence for pair in pairs(case)],
                             options.units, written_in_inches(read_content(options.which, options.changes)))
            if options.verbose:
                print_details(prediction, console())
            sys.stdout.flush()  # a reader that is gone shows now, before anything is written
        if folder is not None:
            from ..output.results import write_results

            with shown_progress(bar_only=json) as progress:
                text, notes = write_results(folder, case, prediction, source, progress,
                                            (lambda into: _write_meshes(pickup, into)) if options.mesh else _nothing,
                                            drawn)
        elif json:
            text = prediction_document(case, prediction, source)
    if json:
        sys.stdout.write(text)
    words = sys.stderr if json else sys.stdout
    for note in notes:
        print(f"Note: {note}", file=words)
    took = f"{time.perf_counter() - begin:.1f} s"
    if out is not None:
        print(f"Results: {out} ({took})", file=words)
    elif not json:
        print(f"Took {took}. With --out DIR the figures, tables and fields are written there.")


def _nothing(folder: Path) -> None:
    """Write no more."""


def _write_meshes(pickup: Pickup, folder: Path) -> None:
    """Planes with what the strings add; in 3-D the whole field on a mesh of the bodies."""
    from ..output.mesh import write_plane, write_whole

    for plane in ("along", "side") if pickup.solver == "row" else ("side",):
        write_plane(pickup.picture(plane), folder)
    whole = pickup.solved.whole()
    if whole is not None:
        write_whole(whole, folder)
