"""`stringflux live`: the pickup in the browser, computed while it is changed."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from ..files.load import find_case
from ..files.text import read_text_file


def live(
    which: Annotated[str, typer.Argument(metavar="CASE", help="File, or name of a shipped case.")] = "bench-single",
    port: Annotated[int, typer.Option(metavar="N", help="Port; 0: any that is free.", min=0, max=65535)] = 0,
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="Open the page.")] = True,
) -> None:
    """Open a page on this machine where strings, poles and coils are moved by hand."""
    path = find_case(which)
    text = read_text_file(path, "a case file")
    from ..live.design import read_design

    read_design(text)
    from ..live.run import run

    sys.exit(run(text=text, name=path.name, port=port, browser=browser))
