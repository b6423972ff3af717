"""Cases: reading, computing and the command line. `from stringflux.cases import load_case, solve`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from stringflux.geometry.late import late

if TYPE_CHECKING:
    from stringflux.postprocess.plucked.modes import Damping, Pluck
    from stringflux.postprocess.plucked.sine import Sine

    from .demonstrations.demonstrate import demonstrate
    from .files.load import load_case, shipped_cases
    from .jobs.material import material
    from .jobs.mix import mix
    from .jobs.prediction import predict
    from .jobs.verify import verify
    from .pickup import Pickup
    from .readings.study import compare_readings
    from .solving import at_tap, solve
    from .studies.balance.problem import BalanceRequest
    from .studies.balance.study import balance
    from .studies.compare.comparison import CompareRequest
    from .studies.compare.study import compare
    from .studies.designs.run import Running
    from .studies.shape.limits import Making
    from .studies.shape.result import ShapeRequest
    from .studies.shape.study import shape
    from .studies.tolerance.study import ToleranceRequest, tolerance
    from .studies.wishes.plan import DesignRequest
    from .studies.wishes.study import design

__all__ = [
    "BalanceRequest",
    "CompareRequest",
    "Damping",
    "DesignRequest",
    "Making",
    "Pickup",
    "Pluck",
    "Running",
    "ShapeRequest",
    "Sine",
    "ToleranceRequest",
    "at_tap",
    "balance",
    "compare",
    "compare_readings",
    "demonstrate",
    "design",
    "load_case",
    "material",
    "mix",
    "predict",
    "shape",
    "shipped_cases",
    "solve",
    "tolerance",
    "verify",
]

_HOME = {
    "BalanceRequest": ".studies.balance.problem",
    "CompareRequest": ".studies.compare.comparison",
    "Damping": "stringflux.postprocess.plucked.modes",
    "DesignRequest": ".studies.wishes.plan",
    "Making": ".studies.shape.limits",
    "Pickup": ".pickup",
    "Pluck": "stringflux.postprocess.plucked.modes",
    "Running": ".studies.designs.run",
    "ShapeRequest": ".studies.shape.result",
    "Sine": "stringflux.postprocess.plucked.sine",
    "ToleranceRequest": ".studies.tolerance.study",
    "at_tap": ".solving",
    "balance": ".studies.balance.study",
    "compare": ".studies.compare.study",
    "compare_readings": ".readings.study",
    "demonstrate": ".demonstrations.demonstrate",
    "design": ".studies.wishes.study",
    "load_case": ".files.load",
    "material": ".jobs.material",
    "mix": ".jobs.mix",
    "predict": ".jobs.prediction",
    "shape": ".studies.shape.study",
    "shipped_cases": ".files.load",
    "solve": ".solving",
    "tolerance": ".studies.tolerance.study",
    "verify": ".jobs.verify",
}

__getattr__ = late(__name__, _HOME)
