"""What goes to the page: a head of JSON and the numbers of its arrays behind it, 4 bytes each.

    length of the head, uint32 | head, UTF-8, blanks up to a multiple of 4 | float32 …      (little-endian)

An array in the head stands as ``{"at": first number, "shape": […]}``. A single number that is none
(a level of nothing) is ``null``; in an array it stays NaN.
"""

from __future__ import annotations

import json
import math
import struct
from collections.abc import Mapping
from typing import Any


def frame(content: Mapping[str, Any]) -> bytes:
    """One message.

    Parameters
    ----------
    content : mapping
        Texts, numbers, lists, mappings and numpy arrays.

    Examples
    --------
    >>> import numpy as np
    >>> whole = frame({"y": np.array([1.0, 2.0])})
    >>> whole[4:].split(b"}")[0]
    b'{"y":{"at":0,"shape":[2]'
    >>> np.frombuffer(whole[-8:], "<f4")
    array([1., 2.], dtype=float32)
    """
    blocks: list[bytes] = []
    head = json.dumps(_plain(content, blocks, [0]), ensure_ascii=False, separators=(",", ":")).encode()
    head += b" " * (-len(head) % 4)
    return b"".join([struct.pack("<I", len(head)), head, *blocks])


def _plain(node: Any, blocks: list[bytes], count: list[int]) -> Any:
    import numpy as np  # late: the computing process is on its way before this one loads it

    if isinstance(node, np.ndarray):
        numbers = np.ascontiguousarray(node, dtype="<f4")
        first, count[0] = count[0], count[0] + numbers.size
        blocks.append(numbers.tobytes())
        return {"at": first, "shape": list(numbers.shape)}
    if isinstance(node, Mapping):
        return {str(key): _plain(value, blocks, count) for key, value in node.items()}
    if isinstance(node, list | tuple):
        return [_plain(value, blocks, count) for value in node]
    if isinstance(node, np.generic):
        node = node.item()
    return None if isinstance(node, float) and not math.isfinite(node) else node
