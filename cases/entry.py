"""The command `stringflux` as a process of its own: what has to be there before the rest is loaded."""

from __future__ import annotations

from . import ending


def main() -> int:
    """Run the command line of this process; the exit code."""
    ending.at_once()
    try:
        from .cli import main as command

        code = command()
    except KeyboardInterrupt:  # between two steps of the command's own end
        code = 130
    return ending.over(code)
