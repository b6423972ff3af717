"""A study as the commands run it: the folder it goes to, and the engine in that folder."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from stringflux.geometry.errors import CaseError, InputError

if TYPE_CHECKING:
    from stringflux.geometry.case.model import Case

    from ...terminal.options import StudyOptions
    from ..engine.task import Outcome, Task


def run_in_folder(tasks: Sequence[Task], options: StudyOptions, *, kind: str, name: str,
                  about: Mapping[str, Any],
                  shared: Callable[[Task], str] | None = None) -> tuple[Path, list[Outcome]]:
    """Compute the designs of a study of `kind` on the case `name`; gives its folder and the outcomes.

    `shared` names what is dear in a design, so that designs of one name follow each other.
    """
    from ...kept.store import default_store
    from ..engine.engine import run_study
    from ..engine.study_folder import check_folder, identity
    from .evaluate import evaluate_with_default_store

    def fits(folder: Path) -> bool:
        try:
            check_folder(folder, identity(tasks, evaluate=evaluate_with_default_store, kind=kind, about=about),
                         resume=True)
        except InputError:
            return False
        return True

    default_store()  # what is wrong with the environment is said once, and not by every design
    resume = options.resume or options.retry
    folder = Path(options.out) if options.out is not None else own_folder(
        f"{name}-{kind}", fits if resume else None)
    outcomes = run_study(
        tasks, folder, evaluate=evaluate_with_default_store, kind=kind, about=about, workers=options.workers,
        cluster=options.cluster, resume=resume, retry=options.retry, shared=shared,
        progress=_silent if options.json and not sys.stderr.isatty() else None)
    return folder, outcomes


def say_effort(case: Case, tasks: Sequence[Task], want: Sequence[str],
               options: StudyOptions) -> Callable[[Task], str] | None:
    """Say how long a study of a build will take; gives what orders its designs, None for a row of poles."""
    if case.is_plain_row:
        return None
    from ..engine.local_crew import count_workers
    from .effort import effort, solid_part

    needed = effort(case, tasks, want)
    if options.cluster is None:
        said = needed.words(count_workers(options.workers, len(tasks)))
    else:
        said = needed.words(options.workers or 1)
    print(f"Solved in 3-D. {said}", file=sys.stderr, flush=True)
    return solid_part


def own_folder(name: str, fits: Callable[[Path], bool] | None = None) -> Path:
    """A folder where the caller is: the first of `name`, `name`-2 … that is not there, or the last that fits."""
    numbered = (Path(name if n == 1 else f"{name}-{n}") for n in range(1, 1000))
    there: list[Path] = []
    for path in numbered:
        if not path.exists():
            break
        there.append(path)
    if fits is None:
        return path
    for found in reversed(there):
        if fits(found):
            return found
    raise CaseError(f"--resume: there is no {name} here with this study; name its folder by --out")


def _silent(done: int, total: int, failed: int) -> None:
    pass
