"""What `stringflux balance` does."""

from __future__ import annotations

from typing import TYPE_CHECKING

from stringflux.geometry.late import late

if TYPE_CHECKING:
    from .problem import BalanceRequest
    from .result import Balanced
    from .study import balance

__all__ = ["BalanceRequest", "Balanced", "balance"]

_HOME = {
    "BalanceRequest": ".problem",
    "Balanced": ".result",
    "balance": ".study",
}

__getattr__ = late(__name__, _HOME)
