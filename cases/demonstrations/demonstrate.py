"""A demonstration for scripts and notebooks: `demonstrate("falling-magnet")`."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from stringflux.geometry.errors import CaseError

from ..pickup_fields import Progress, nobody
from .names import computed, known, read_case
from .settings import LessonSettings

if TYPE_CHECKING:
    from stringflux.postprocess.demonstrations.record import Demonstration


def demonstrate(name: str, case: str = "", changes: Mapping[str, Any] | None = None, *, quality: str = "normal",
                progress: Progress = nobody, **asked: Any) -> Demonstration:
    """What `stringflux demonstrate` computes, of any case; of a pickup at hand: :meth:`.Pickup.demonstrate`.

    Parameters
    ----------
    name : str
        "string", "three-coils", "hum", "falling-magnet" or "tooth-wheel".
    case : str
        A file or a shipped case; the demonstration's own choice if left out.
    changes : mapping of str to object
        As of :func:`stringflux.cases.load_case`.
    quality : {"draft", "normal", "fine"}
    **asked
        What :class:`.settings.LessonSettings` holds, in SI, of a demonstration of a pickup.

    Raises
    ------
    CaseError
        For a name, a case or a value that cannot be.
    SolveError
        Where the solution does not settle.

    Examples
    --------
    >>> from stringflux.cases import demonstrate
    >>> fall = demonstrate("falling-magnet", changes={"coil.turns": 2000}, quality="draft")
    >>> fall.found.first.e > 0 > fall.found.second.e  # V
    True
    """
    one = known(name)
    found, _ = read_case(one, case or one.case, dict(changes or {}))
    foreign = [key for key in asked if key not in one.takes]
    settings = LessonSettings(**asked)
    if foreign:
        raise CaseError(f"{foreign[0]}: the demonstration {name} makes nothing of it; it takes "
                        f"{', '.join(one.takes) or 'changes of its case alone'}")
    return computed(name, found, settings, quality, progress)
