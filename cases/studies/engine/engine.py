"""The engine under all studies: many designs, here or on a cluster, streamed to a folder and resumable.

Where the designs are computed is a crew's matter (`local_crew`, `cluster_crew`), what is kept the study folder's
(`study_folder`). The engine hands one's results to the other until all are there, and stops cleanly in between.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Mapping, Sequence
from contextlib import AbstractContextManager, closing, nullcontext
from pathlib import Path
from typing import Any, Protocol

from stringflux.geometry.errors import StudyStopped

from ...ending import stopping
from ...terminal.progress import shown_designs
from .dealing import Shares
from .study_folder import StudyFolder, check_folder, identity
from .task import Outcome, Task

Progress = Callable[[int, int, int], None]
"""Called with designs finished, designs in all, and how many of the finished ones failed."""


class Crew(Protocol):
    """Whoever computes designs."""

    def results(self, shares: Shares, evaluate: Callable[[Task], Outcome]) -> Generator[Outcome | None, None, None]:
        """Outcomes as they come, in any order; None every quarter of a second in which none came."""


def run_study(
    tasks: Sequence[Task],
    folder: Path,
    *,
    evaluate: Callable[[Task], Outcome],
    kind: str = "study",
    about: Mapping[str, Any] | None = None,
    workers: int | None = None,
    cluster: str | None = None,
    resume: bool = False,
    retry: bool = False,
    progress: Progress | None = None,
    shared: Callable[[Task], str] | None = None,
) -> list[Outcome]:
    """Compute every design; what is finished stays in the folder whatever happens.

    Parameters
    ----------
    tasks : sequence of Task
        The designs; neighbours in this order go to the same worker, so that it can reuse what they share. They may
        be made when they are asked for.
    folder : path
        Keeps ``study.json`` (what was asked) and ``results.jsonl`` (a line for every finished design).
    evaluate : callable
        From a task to its outcome; found by its name in its module (or a `functools.partial` of such a one), for
        it is called in other processes. What it raises becomes the design's failure.
    kind : str
        Of study: "compare", "tolerance" ...; part of what tells one study from another, as the tasks are.
    about : mapping, optional
        More to keep in ``study.json``: the base case's text, the options. JSON's types.
    workers : int, optional
        Local processes; as many as there are cores if left out.
    cluster : str, optional
        Address of a Dask scheduler, "tcp://127.0.0.1:8786", to compute there instead.
    resume : bool
        Go on with the study in `folder`, if there is one. What failed for the machine's sake is tried again.
    retry : bool
        And whatever else failed.
    progress : callable, optional
        Told of every finished design; a bar with the time left on the error stream if left out.
    shared : callable, optional
        A name for what is dear in a design: designs of one name are computed one after the other.

    Returns
    -------
    list of Outcome
        In the order of `tasks`; a design that failed has its reason and no values.

    Raises
    ------
    OutputError
        If the folder holds something else, is another study's, or another process is at work in it.
    CaseError
        If the cluster cannot be used, or there cannot be so many workers.
    StudyStopped
        After Ctrl-C, or another signal to end; ``resume`` goes on.
    WriteError
        If the disk is full; ``resume`` goes on.
    """
    asked = identity(tasks, evaluate=evaluate, kind=kind, about=about)
    check_folder(folder, asked, resume=resume)  # at once: a cluster may take seconds to answer
    with _crew(workers, cluster, len(tasks)) as crew, StudyFolder(folder, asked, resume=resume) as log:
        done = {number: outcome for number, outcome in log.found.items() if not outcome.again(retry=retry)}
        failed = sum(bool(outcome.failure) for outcome in done.values())
        todo = [place for place, number in enumerate(asked.numbers) if number not in done]
        if shared is not None:
            first: dict[str, int] = {}
            rank = {place: first.setdefault(shared(tasks[place]), place) for place in todo}
            todo.sort(key=rank.__getitem__)
        shown = shown_designs() if progress is None else nullcontext(progress)
        with stopping() as stop, shown as report:
            report(len(done), len(tasks), failed)
            with closing(crew.results(Shares(tasks, todo), evaluate)) as results:
                for outcome in results:
                    if outcome is not None:
                        outcome = log.append(outcome)
                        done[outcome.number] = outcome
                        failed += bool(outcome.failure)
                        report(len(done), len(tasks), failed)
                    log.sync_now_and_then()
                    if stop.is_set() and len(done) < len(tasks):
                        raise StudyStopped(
                            f"stopped; {len(done)} of {len(tasks)} designs are finished and kept in {folder}, "
                            "the same command with --resume goes on from there"
                        )
    return [done[number] for number in asked.numbers]


def _crew(workers: int | None, cluster: str | None, tasks: int) -> AbstractContextManager[Crew]:
    # late, both: either loads what the other has no use for
    if cluster is None:
        from .local_crew import LocalCrew, count_workers

        return nullcontext(LocalCrew(count_workers(workers, tasks)))
    from .cluster_crew import ClusterCrew

    return ClusterCrew(cluster, workers=workers)
