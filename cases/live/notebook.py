"""The live page in a notebook: a server in a process of its own, and the page in a frame."""

from __future__ import annotations

import html
import subprocess
import sys
import tempfile
import weakref
from pathlib import Path

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import SolveError
from stringflux.geometry.reading.written import written_case

from ..files.changed import toml_text

HEIGHT = 760
"""Of the frame, px."""


class LivePage:
    """A page that is served until :meth:`stop`, or until nobody holds it.

    Parameters
    ----------
    case : Case

    Attributes
    ----------
    address : str
        For a browser on this machine.
    """

    def __init__(self, case: Case) -> None:
        folder = tempfile.TemporaryDirectory(prefix="stringflux-")
        path = Path(folder.name, "pickup.toml")
        path.write_text(toml_text(written_case(case)), encoding="utf-8")
        self._process = subprocess.Popen(
            [sys.executable, "-m", "stringflux", "live", str(path), "--no-browser", "--framed"], text=True,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, stdin=subprocess.PIPE)
        self._end = weakref.finalize(self, _end, self._process, folder)
        assert self._process.stdout is not None
        said = self._process.stdout.readline()
        self.address = next((word for word in said.split() if word.startswith("http://")), "")
        if not self.address:
            self.stop()
            raise SolveError(f"the live page cannot be served: {said.strip() or 'its program ended at once'}")

    def stop(self) -> None:
        """End the server; the page says so."""
        self._end()

    def _repr_html_(self) -> str:
        return (f'<iframe src="{html.escape(self.address)}" width="100%" height="{HEIGHT}" '
                'title="stringflux, live" allow="autoplay; clipboard-write"></iframe>')


def _end(process: subprocess.Popen[str], folder: tempfile.TemporaryDirectory[str]) -> None:
    process.terminate()
    try:
        process.wait(5.0)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
    for pipe in (process.stdin, process.stdout):
        if pipe is not None:
            pipe.close()
    folder.cleanup()
