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
    lesson: Annotated[bool, typer.Option("--class", help="Readers see the page, by way of --host.")] = False,
    host: Annotated[str | None, typer.Option(metavar="ADDRESS", help="Where the class reaches this machine.")] = None,
) -> None:
    """Open a page on this machine where strings, poles and coils are moved by hand."""
    from ..live.run import check_host, run

    check_host(host, lesson)
    path = find_case(which)
    text = read_text_file(path, "a case file")
    from ..live.pool import Computer

    computer = Computer()  # loads while this process does
    try:
        from ..live.design import read_design

        read_design(text)
        code = run(text=text, name=path.name, case=str(path.resolve()), computer=computer, port=port, browser=browser,
                   host=host, lesson=lesson)
    finally:
        computer.stop()
    sys.exit(code)
