"""What `stringflux shape` says and writes: tables, one JSON document, and the files of every design."""

from __future__ import annotations

from pathlib import Path
from typing import TextIO

import numpy as np
from rich.console import Console

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import OutputError
from stringflux.geometry.units import mm

from ...output.csv_table import csv_text, head
from ...output.document import CaseSource, document
from ...output.folder import FolderKind
from ...terminal.tables import Column, digits, table
from .files import write_dxf, write_table
from .goals import BY_CURVE, GOALS, changed, shown_change
from .result import ShapeDesign, ShapeRequest, ShapeStudy, doubt, shown_figure
from .so_far import ShapeStopped

MARK = "shape.json"
KIND = FolderKind(MARK, r"front\.(png|svg|csv)|"
                        r"([0-9]+-)?(profile\.(csv|dxf)|drawing\.svg|before-after\.(png|svg)|case\.toml)")
UNITS = {
    **{name: goal.unit for name, goal in GOALS.items()},
    **dict.fromkeys(("edge", "value", "radius", "depth", "step", "least_radius", "deepest"), "m"),
    **dict.fromkeys(("volume", "least_volume", "most_volume"), "m^3"),
}


def shape_document(study: ShapeStudy, case: Case, source: CaseSource) -> str:
    """The study as JSON, SI."""
    several = len(study.designs) > 1
    designs = [{
        "number": i, "figures": d.figures, "by_curve": d.by_curve, "found": d.best.moved,
        "meshed_anew": d.best.meshed, "remeshing": d.best.remeshing,
        "lengths": [{"name": n, "value": v} for n, v in d.lengths.items()], "edge": d.edge, "made": d.made,
        "turned": d.turned, "kept": d.kept, "held": d.best.held, "rounds": d.best.rounds,
        "gained": [n for n in study.asked.goals if study.gained(d, n)],
    } for i, d in enumerate(study.designs, start=1)]
    asked = study.asked
    result = {
        "form": asked.form, "goals": asked.goals, **({"body": asked.body} if asked.body else {}),
        "poles": study.poles, "quality": study.quality,
        "making": asked.making, "before": study.before, "before_by_curve": study.before_by_curve,
        "designs": designs,
        "noise": {n: {"scatter": q.scatter, "range": q.range, "share": q.share} for n, q in study.noise.items()},
        "repeated_points": study.repeated, "fitted_shapes": study.fitted, "solves": study.solves,
        "adjoint_solves": study.adjoints,
    }
    files = [MARK, *_common(several), *(f for i in range(len(designs)) for f in _of_design(i, several, asked.body))]
    return document("shape", case, source, result, UNITS, files)


def stopped_document(stopped: ShapeStopped, asked: ShapeRequest, case: Case, source: CaseSource) -> str:
    """What a search that was stopped has kept, as JSON, SI."""
    result = {"form": asked.form, "goals": asked.goals, **({"body": asked.body} if asked.body else {}),
              "making": asked.making, "stopped": True,
              "so_far": {**stopped.goals, "lengths": [{"name": n, "value": v} for n, v in stopped.lengths.items()]}}
    return document("shape", case, source, result, UNITS, [MARK, "case.toml"])


def _common(several: bool) -> list[str]:
    return ["front.png", "front.svg", "front.csv"] if several else []


def _of_design(i: int, several: bool, body: str) -> list[str]:
    start = f"{i + 1}-" if several else ""
    turned = () if body else ("profile.csv", "profile.dxf", "drawing.svg")
    return [f"{start}{f}" for f in (*turned, "before-after.png", "before-after.svg", "case.toml")]


def write_study(folder: Path, study: ShapeStudy, text: str) -> None:
    """All files of a study into an empty folder.

    Raises
    ------
    OutputError
        When the disk refuses.
    """
    from ...output.figure_files import save_figure

    several = len(study.designs) > 1
    try:
        figures = study.figures()
        for i, d in enumerate(study.designs):
            *turned, picture, other, case = _of_design(i, several, study.asked.body)
            if turned:
                table_of, dxf, drawing = turned
                write_table(folder / table_of, d.edge)
                write_dxf(folder / dxf, d.shape)
                save_figure(figures[_stem(drawing)], folder / drawing)
            pictures = [picture, other]
            save_figure(figures[_stem(pictures[0])], *(folder / name for name in pictures))
            (folder / case).write_text(d.text, encoding="utf-8")
        if several:
            save_figure(figures["front"], folder / "front.png", folder / "front.svg")
            (folder / "front.csv").write_text(_front_csv(study), encoding="utf-8", newline="")
        (folder / MARK).write_text(text, encoding="utf-8")
    except OSError as error:
        raise OutputError(f"--out: the results cannot be written ({error.strerror or error})") from None


def _stem(name: str) -> str:
    return name.partition(".")[0]


def _front_csv(study: ShapeStudy) -> str:
    heads = ("point", *(head(GOALS[n].title, GOALS[n].shown) for n in study.asked.goals))
    return csv_text(heads, [(i, *point) for i, point in enumerate(study.points, start=1)])


def keep_stopped(folder: Path | None, stopped: ShapeStopped, text: str, to: TextIO) -> None:
    """Say what the best so far is, and write its case into a folder if there is one.

    Raises
    ------
    OutputError
        When the disk refuses.
    """
    found = [f"{GOALS[n].title} {shown_figure(n, v)}{' on the static curve of the steel' if n in BY_CURVE else ''}"
             for n, v in stopped.goals.items()]
    lengths = [f"{n} {mm(v)}" for n, v in stopped.lengths.items()]
    print(f"So far: {'; '.join([*found, ', '.join(lengths)] if lengths else found)}.", file=to)
    if folder is None:
        print("With --out DIR a case with it is kept there.", file=to)
        return
    try:
        (folder / "case.toml").write_text(stopped.text, encoding="utf-8")
        (folder / MARK).write_text(text, encoding="utf-8")
    except OSError as error:
        raise OutputError(f"--out: the results cannot be written ({error.strerror or error})") from None


def print_study(study: ShapeStudy, case: Case, to: Console) -> None:
    """The study as a winder reads it."""
    asked = study.asked
    to.print(case.title or "Untitled case", style="bold", markup=False)
    goals = " and ".join(GOALS[n].title for n in asked.goals)
    what = asked.body or f"pole {_listed(study.poles)}"
    to.print(f"{asked.form.capitalize()} of {what} for {goals}; quality {study.quality}.", markup=False)
    columns = [Column(head="Figure", cells=tuple(f"{GOALS[n].title}, {GOALS[n].shown}" for n in study.before)),
               Column(head="Before", cells=_figures(study.before, study.before))]
    for i, d in enumerate(study.designs, start=1):
        head = f"Design {i}" if len(study.designs) > 1 else "After"
        columns.append(Column(head=head, cells=_figures(d.figures, study.before)))
    to.print(table("Figures of the cases, computed afresh", columns, left=1))
    for i, d in enumerate(study.designs, start=1):
        _print_design(study, d, f" of design {i}" if len(study.designs) > 1 else "", to)
    for i, d in enumerate(study.designs, start=1):
        to.print(f"{f'Design {i}' if len(study.designs) > 1 else 'Gain'}: {_gains(study, d)}.", soft_wrap=True)
    for sentence in _by_curve(study):
        to.print(sentence, soft_wrap=True)
    for n, noise in study.noise.items():
        to.print(f"Noise of the {GOALS[n].title} over small steps: {100 * noise.share:.2g} % of its range.")
    to.print(f"Solved {study.solves} times, and {study.adjoints} times with slopes from the adjoint.")
    if study.fitted:
        to.print(f"Searched in a fit of both goals over {study.fitted} shapes; every point then solved.")
    if study.repeated:
        found = len(study.designs) + study.repeated
        to.print(f"{study.repeated} of the {found} points of the front came out as one that is told, or no better, "
                 "within the noise and the lathe's steps.", soft_wrap=True)
    if len(study.designs) > 1:
        to.print("Front by the ε-constraint method: goal 1 at its best under a ceiling on goal 2, each point started "
                 "from the one before.", soft_wrap=True)


def _by_curve(study: ShapeStudy) -> list[str]:
    """What the search went by and what is told, of each goal by which they are two: both, of every design."""
    alone, beside = (", each string alone,", " and the other strings beside each") if len(
        study.case.string) > 1 else ("", "")
    out = []
    for n, start in study.before_by_curve.items():
        went, told = (", ".join([shown_figure(n, v, unit=False) for v in values[:-1]] + [shown_figure(n, values[-1])])
                      for values in ([d.by_curve[n] for d in study.designs], [d.figures[n] for d in study.designs]))
        out.append(f"The search went by {GOALS[n].title} on the static curve of the strings' steel{alone} from "
                   f"{shown_figure(n, start, unit=False)} to {went}; with what the steel remembers{beside}, as "
                   f"predict tells it, that is from {shown_figure(n, study.before[n], unit=False)} to {told}.")
    return out


def _gains(study: ShapeStudy, d: ShapeDesign) -> str:
    """What each goal came to; a change under its noise is no gain."""
    told = []
    for n in study.asked.goals:
        before, after, noise = study.before[n], d.figures[n], doubt(d, study.noise, n)
        if abs(after - before) <= noise:
            limit = shown_change(n, changed(n, before, before + noise)).removeprefix("+")
            change = shown_change(n, changed(n, before, after))
            told.append(f"{GOALS[n].title} none, {change} is under the noise of {limit}")
        else:
            told.append(f"{GOALS[n].title} {shown_change(n, changed(n, before, after), 3)}"
                        f"{'' if study.gained(d, n) else ', which is no gain'}")
    return "; ".join(told)


def _figures(values: dict[str, float], names: dict[str, float]) -> tuple[str, ...]:
    return tuple(shown_figure(n, values[n], unit=False) for n in names)


def _print_design(study: ShapeStudy, d: ShapeDesign, of: str, to: Console) -> None:
    step = study.asked.making.step
    if d.lengths:
        named = zip(d.lengths, d.best.p, d.lengths.values(), strict=True)
        rows = [(name, f"{1e3 * found:.3f}", f"{1e3 * turned:.3g}") for name, found, turned in named]
        to.print(table(f"Lengths{of}", [Column(head=h, cells=tuple(c)) for h, c in
                                        zip(("Length", "found\nmm", f"steps of {1e3 * step:g}\nmm"),
                                            zip(*rows, strict=True), strict=True)], left=1))
    if study.form.curve:
        to.print(table(f"Profile{of}, steps of {1e3 * step:g} mm", [
            Column(head="r\nmm", cells=tuple(digits(1e3 * r) for r, _ in d.edge)),
            Column(head="depth\nmm", cells=tuple(digits(-1e3 * z + 0.0) for _, z in d.edge))]))
    changes = ", ".join(f"{GOALS[n].title} {shown_change(n, v)}" for n, v in d.best.remeshing.items())
    steps = ", ".join(f"{GOALS[n].title} {shown_change(n, changed(n, v, {**d.figures, **d.by_curve}[n]))}"
                      for n, v in d.best.meshed.items())
    if study.asked.body:
        to.print(f"Volume of the body{of} {1e9 * d.made.volume:.1f} mm³; in steps {1e9 * d.turned.volume:.1f} mm³.")
        _print_search(study, d, changes, steps, "the steps", to)
        return
    radius = f"smallest radius {1e3 * d.made.radius:.3g} mm, " if np.isfinite(d.made.radius) else ""
    to.print(f"Curve{of}: {radius}depth {1e3 * d.made.depth:.3g} mm, volume of the pole "
             f"{1e9 * d.made.volume:.1f} mm³; as turned {1e3 * d.turned.depth:.3g} mm and "
             f"{1e9 * d.turned.volume:.1f} mm³.", soft_wrap=True)
    if not d.kept:
        to.print("The lathe's steps miss a limit that the curve keeps: take finer steps, or leave the limit room.",
                 soft_wrap=True)
    _print_search(study, d, changes, steps, "the lathe's steps", to)


def _print_search(study: ShapeStudy, d: ShapeDesign, changes: str, steps: str, whose: str, to: Console) -> None:
    rounds = "1 round" if len(d.best.rounds) == 1 else f"{len(d.best.rounds)} rounds"
    against = "the fit misses" if study.fitted else "a mesh of its own changes"
    to.print(f"{rounds}; {against} {changes}; {whose} change {steps}.",
             soft_wrap=True)
    if d.best.held:
        to.print("It is limited by the room of the search: more would come of a wider limit.")
    for message in {r.message for r in d.best.rounds if r.message}:
        to.print(f"The search stopped early: {message}.", markup=False)


def _listed(poles: tuple[int, ...]) -> str:
    return ", ".join(map(str, poles))
