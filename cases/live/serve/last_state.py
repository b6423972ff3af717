"""The last state of a page, in this person's own folder: one a case, written whole or not at all.

It lies in ``live/`` of the folder that platformdirs calls this user's state, or that `STRINGFLUX_STATE` names.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from ...files.whole import beside
from ...kept.store_folder import read_regular

MOST = 20
"""States that are kept; the oldest go."""
LARGEST = 8_000_000


def state_folder() -> Path:
    """Where states lie."""
    named = os.environ.get("STRINGFLUX_STATE")
    if named:
        return Path(named) / "live"
    from platformdirs import user_state_dir

    return Path(user_state_dir("stringflux", appauthor=False)) / "live"


@dataclass(frozen=True, kw_only=True)
class LastState:
    """The state of one case.

    Attributes
    ----------
    case : str
        What tells it from others: the path of its file.
    folder : Path
    """

    case: str
    folder: Path

    @property
    def path(self) -> Path:
        """The file of this case."""
        return self.folder / f"{hashlib.sha256(self.case.encode()).hexdigest()[:24]}.json"

    def read(self, text: str) -> Mapping[str, Any] | None:
        """What was kept, "text", "pins" and "when", if it is another text than that of the file."""
        raw = read_regular(self.path)
        if raw is None or len(raw) > LARGEST:
            return None
        try:
            found = json.loads(raw)
            kept = {"text": str(found["text"]), "when": str(found["when"]),
                    "pins": [{"name": str(p["name"]), "text": str(p["text"])} for p in found["pins"]]}
            json.dumps(kept, ensure_ascii=False).encode()
        except (ValueError, KeyError, TypeError, RecursionError):
            return None
        return kept if found.get("case") == self.case and (kept["text"] != text or kept["pins"]) else None

    def write(self, text: str, pins: Sequence[Mapping[str, str]], opened: str) -> None:
        """Keep a state; that of a file as it was opened, without pins, is none.

        Raises
        ------
        OSError
            Where nothing can be written.
        """
        if text == opened and not pins:
            self.path.unlink(missing_ok=True)
            return
        self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        content = {"case": self.case, "when": datetime.now().astimezone().isoformat(timespec="seconds"), "text": text,
                   "pins": [dict(p) for p in pins]}
        with beside(self.path) as temp:
            temp.touch(mode=0o600)
            temp.write_text(json.dumps(content), encoding="utf-8")
        self._trim()

    def _trim(self) -> None:
        with suppress(OSError):
            files = sorted(self.folder.glob("[0-9a-f]*.json"), key=lambda p: p.stat().st_mtime, reverse=True)
            for old in files[MOST:]:
                old.unlink(missing_ok=True)
