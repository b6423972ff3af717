"""`stringflux live`: the pickup in the browser, computed while it is changed."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from stringflux.geometry.errors import OutputError
from stringflux.geometry.reading.old_words import text_in_new_words
from stringflux.geometry.units import shown

from ..files.load import find_case
from ..files.named_files import text_with_whole_paths
from ..files.text import read_text_file
from ..files.whole import write_new
from ..terminal.progress import shown_progress


def live(
    which: Annotated[str, typer.Argument(metavar="CASE", help="File, or name of a shipped case.")] = "bench-single",
    port: Annotated[int, typer.Option(metavar="N", help="Port; 0: any that is free.", min=0, max=65535)] = 0,
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="Open the page.")] = True,
    lesson: Annotated[bool, typer.Option("--class", help="Readers see the page, by way of --host.")] = False,
    host: Annotated[str | None, typer.Option(metavar="ADDRESS", help="Where the class reaches this machine.")] = None,
    export: Annotated[
        str | None, typer.Option(metavar="FILE", help="Write the page as one file that works alone.")] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace that file.")] = False,
    framed: Annotated[bool, typer.Option("--framed", hidden=True)] = False,
) -> None:
    """Open a page on this machine where strings, poles and coils are moved by hand."""
    from ..live.serve.run import check_host, run

    check_host(host, lesson)
    path = find_case(which)
    text = text_with_whole_paths(text_in_new_words(read_text_file(path, "a case file")), path.parent)
    if export is not None:
        _export(text, path.name, export, force=force)
        return
    from ..live.serve.pool import Computer

    computer = Computer()  # loads while this process does
    try:
        from ..live.hand.design import read_design

        read_design(text)
        code = run(text=text, name=path.name, case=str(path.resolve()), computer=computer, port=port, browser=browser,
                   host=host, lesson=lesson, framed=framed)
    finally:
        computer.stop()
    sys.exit(code)


def _export(text: str, name: str, where: str, *, force: bool) -> None:
    """Write the page as a file."""
    from ..live.hand.design import read_design

    case = read_design(text)
    if Path(where).suffix.lower() not in (".html", ".htm"):
        raise OutputError(f"--export: received {shown(where)}; name a file that ends in .html")
    if not force and Path(where).exists():
        raise OutputError(f"--export: received {shown(where)}, which is already there; name another file or add "
                          "--force")
    from ..live.export import exported
    from ..solving import solve

    with shown_progress() as progress:
        page = exported(solve(case), text, name, progress)
    path = write_new(where, page, argument="--export", force=force)
    print(f"Page: {path} ({len(page) / 1e6:.1f} MB). It works in a browser without the program.")
