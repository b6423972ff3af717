"""A study run: here and now, or by the engine in a folder; and the folder that a command takes."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from stringflux.geometry.errors import CaseError, InputError

if TYPE_CHECKING:
    from stringflux.geometry.case.model import Case

    from ...terminal.options import StudyOptions
    from ..engine.task import Outcome, Task


Progress = Callable[[int, int, int], None]


@dataclass(frozen=True, kw_only=True)
class Running:
    """Where the designs of a study are computed, and what is kept of them.

    Attributes
    ----------
    folder : path or None
        Keeps every finished design, whatever happens. None: nothing is kept, and the designs are computed here and
        now, one after the other.
    workers : int or None
        Processes, with a folder; as many as there are cores if None. They begin the program anew, so a script that
        asks for them needs ``if __name__ == "__main__"``.
    cluster : str or None
        Address of a Dask scheduler to compute on, with a folder.
    resume, retry : bool
        Go on with the study in the folder; and try again whatever failed.
    """

    folder: str | os.PathLike[str] | None = None
    workers: int | None = None
    cluster: str | None = None
    resume: bool = False
    retry: bool = False

    def __post_init__(self) -> None:
        for name in ("workers", "cluster", "resume", "retry"):
            if self.folder is None and getattr(self, name):
                raise InputError(f"{name}: received without a folder, which keeps what they compute; name one")


HERE = Running()


def run_designs(tasks: Sequence[Task], running: Running, *, kind: str, about: Mapping[str, Any],
                shared: Callable[[Task], str] | None = None, progress: Progress | None = None) -> list[Outcome]:
    """Compute the designs of a study of `kind`; arguments as of :func:`..engine.engine.run_study`."""
    from .evaluate import evaluate, evaluate_with_default_store

    if running.folder is not None:
        from ..engine.engine import run_study

        return run_study(
            tasks, Path(running.folder), evaluate=evaluate_with_default_store, kind=kind, about=about,
            workers=running.workers, cluster=running.cluster, resume=running.resume or running.retry,
            retry=running.retry, shared=shared, progress=progress)
    from ...kept.store import memory

    store = memory()
    outcomes: list[Outcome] = []
    for task in tasks:
        outcomes.append(evaluate(task, store))
        if progress is not None:
            progress(len(outcomes), len(tasks), sum(bool(o.failure) for o in outcomes))
    return outcomes


def refuse_where(options: StudyOptions) -> None:
    """Refuse a folder that can keep no study, and workers that cannot be, before anything is planned.

    Raises
    ------
    OutputError, CaseError
    """
    from ...files.whole import refuse_unwritable
    from ..engine.local_crew import count_workers
    from ..engine.study_folder import check_place

    if options.out is None:
        refuse_unwritable(Path(), "--out: left out")
    else:
        check_place(Path(options.out))
    if options.cluster is None:
        count_workers(options.workers, 1)


def run_in_folder(tasks: Sequence[Task], options: StudyOptions, *, kind: str, name: str,
                  about: Mapping[str, Any],
                  shared: Callable[[Task], str] | None = None) -> tuple[Path, list[Outcome]]:
    """Compute the designs of a study of `kind` on the case `name`; gives its folder and the outcomes.

    `shared` names what is dear in a design, so that designs of one name follow each other.
    """
    from ...kept.store import default_store
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
    folder = Path(options.out) if options.out is not None else own_folder(
        f"{name}-{kind}", fits if options.resume or options.retry else None)
    running = Running(folder=folder, workers=options.workers, cluster=options.cluster, resume=options.resume,
                      retry=options.retry)
    outcomes = run_designs(tasks, running, kind=kind, about=about, shared=shared,
                           progress=silent if options.json and not sys.stderr.isatty() else None)
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


def silent(done: int, total: int, failed: int) -> None:
    """Tell nobody how far the work is."""
