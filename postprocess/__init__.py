"""What the fields mean for strings: magnetisation, linkage, sensitivity, balance, figures."""

from __future__ import annotations

from stringflux.geometry.late import late

__all__ = ["CoilRecord", "PoleRecord", "Prediction", "StringRecord", "string_model"]

_HOME = {
    "Prediction": ".results.prediction",
    "StringRecord": ".records.prediction",
    "PoleRecord": ".records.prediction",
    "CoilRecord": ".records.prediction",
    "string_model": ".string.model",
}

__getattr__ = late(__name__, _HOME)
