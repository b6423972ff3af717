"""Tables as Parquet: columns with their unit and title in their metadata."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from .csv_table import head


@dataclass(frozen=True, kw_only=True, eq=False)
class TableColumn:
    """A column of a table; a sequence of `values` has None where there is none.

    Attributes
    ----------
    name : str
    values : sequence or array
    unit : str
        "" for a pure number or words.
    title, shown : str
        What it is, and the unit people read it in.
    """

    name: str
    values: Sequence[int | float | str | None] | npt.NDArray[Any]
    unit: str = ""
    title: str = ""
    shown: str = ""

    @property
    def head(self) -> str:
        """Name and unit, as CSV has them."""
        return head(self.name, self.unit)


def parquet_bytes(columns: Sequence[TableColumn]) -> bytes:
    """The file; arrays keep their kind of number."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    fields = [_field(pa, column) for column in columns]
    arrays = [pa.array(column.values, type=field.type) for column, field in zip(columns, fields, strict=True)]
    sink = pa.BufferOutputStream()
    table = pa.Table.from_arrays(arrays, schema=pa.schema(fields))
    if all(isinstance(column.values, np.ndarray) for column in columns):  # long series: a third less
        pq.write_table(table, sink, compression="zstd", use_dictionary=False, use_byte_stream_split=True)
    else:
        pq.write_table(table, sink)
    return bytes(sink.getvalue())


def _field(pa: Any, column: TableColumn) -> Any:
    if isinstance(column.values, np.ndarray):
        kind = pa.from_numpy_dtype(column.values.dtype)
    else:
        kinds = {type(value) for value in column.values}
        kind = pa.string() if str in kinds else pa.int64() if kinds == {int} else pa.float64()
    about = {"unit": column.unit, "title": column.title, "shown": column.shown or column.unit}
    return pa.field(column.name, kind, metadata=about)
