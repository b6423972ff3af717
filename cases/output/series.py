"""What a string does over time as tables: all of it as Parquet, the first second as CSV, which spreadsheets open."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from stringflux.geometry.arrays import Array

from .csv_table import csv_text
from .parquet import TableColumn, parquet_bytes

if TYPE_CHECKING:
    from stringflux.postprocess.plucked.signal import StringSignal

CSV_SECONDS = 1.0


def write_series(folder: Path, name: str, unloaded: StringSignal, loaded: Array) -> None:
    """Write ``NAME.csv`` and ``NAME.parquet``: time, place across and up, λ, and e of the open coil and at the
    amplifier; SI, single precision in Parquet."""
    columns = (
        ("time", "s", "s", "Time from the pluck", unloaded.time),
        ("up", "m", "mm", "Place of the string over the pickup, up from rest", unloaded.up),
        ("across", "m", "mm", "The same across the strings", unloaded.across),
        ("linkage", "Wb", "uWb", "Flux linkage of the string", unloaded.linkage),
        ("emf open", "V", "mV", "Voltage of the open coil", unloaded.voltage),
        ("voltage loaded", "V", "mV", "Voltage at the amplifier", loaded))
    whole = [TableColumn(name=n, unit=unit, shown=shown, title=title,
                         values=values if n == "time" else values.astype(np.float32))
             for n, unit, shown, title, values in columns]
    (folder / f"{name}.parquet").write_bytes(parquet_bytes(whole))
    few = round(CSV_SECONDS * unloaded.rate)
    rows = np.stack([values[:few] for *_, values in columns], axis=1).tolist()
    (folder / f"{name}.csv").write_text(csv_text([c.head for c in whole], rows, form=".7g"), encoding="utf-8",
                                        newline="")
