"""gmsh leaves a process what it does with signals, in whichever thread it runs."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

PROGRAM = """
import os, signal, threading
from stringflux.geometry.kernel.session import gmsh_model

def used():
    with gmsh_model("x") as gmsh:
        gmsh.model.occ.addBox(0, 0, 0, 1, 1, 1)

signal.signal(signal.SIGTERM, lambda *_: print("ended in order"))
if {thread}:
    one = threading.Thread(target=used)
    one.start()
    one.join()
else:
    used()
os.kill(os.getpid(), signal.SIGTERM)
read, write = os.pipe()
os.close(read)
try:
    os.write(write, b"x")  # SIGPIPE, which Python ignores
except BrokenPipeError:
    print("still there")
"""


@pytest.mark.skipif(os.name == "nt", reason="Windows has none of these signals")
@pytest.mark.parametrize("thread", [False, True])
def test_signals_are_left_as_they_were(thread: bool) -> None:
    done = subprocess.run([sys.executable, "-c", PROGRAM.format(thread=thread)], capture_output=True, text=True,
                          check=False)
    assert (done.returncode, done.stdout.split("\n")[:2]) == (0, ["ended in order", "still there"])
