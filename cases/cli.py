"""The command `stringflux`. Each command's work is done in a module of its own, loaded when it is called."""

from __future__ import annotations

import errno
import os
import sys
import traceback
import warnings
from collections.abc import Sequence
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from stringflux.geometry.errors import CaseError, StringfluxError, StudyStopped
from stringflux.geometry.units import shown

from . import cli_bench, cli_strings, cli_studies, cli_verify, ending
from .terminal.options import Changes, Json, Out, Quality, Verbose, Which, read_changes

STOPPED = 130
FULL = (errno.ENOSPC, errno.EDQUOT, errno.EIO)
USAGE: type[Exception] = typer.BadParameter.__bases__[0]  # every fault of the command line itself


class _Commands(TyperGroup):
    """The commands in the order of use, and a sentence for one that is not there."""

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        # a shell that asks how to go on gets no answer to what is not there
        if not args[0].startswith("-") and args[0] not in self.commands and not ctx.resilient_parsing:
            from stringflux.geometry.case.keys import near

            raise CaseError(
                f"there is no command {shown(args[0])}{near(args[0], self.commands)}; "
                f"the commands are {', '.join(self.commands)}"
            )
        return super().resolve_command(ctx, args)


app = typer.Typer(
    cls=_Commands,
    context_settings={"help_option_names": ["-h", "--help"]},
    rich_markup_mode=None,  # plain help: a third of the time
    help="What a wound pickup for steel-string instruments will do, before anyone winds it.",
    epilog="CASE is a file, or the name of a shipped case. Exit code 2: yours to mend; 1: anything else.",
)

Force = Annotated[bool, typer.Option("--force", help="Replace a file that is there.")]


def _version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        print(f"stringflux {version('stringflux')}")
        raise typer.Exit


@app.callback()
def _common(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    pass


@app.command()
def predict(
    case: Which,
    out: Annotated[
        str | None, typer.Option("--out", metavar="DIR", show_default=False, help="Folder for the results.")
    ] = None,
    quality: Quality = "normal",
    changes: Changes = None,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document and nothing else.")] = False,
    solver: Annotated[str, typer.Option("--solver", metavar="NAME", help="auto, row, solid or plane.")] = "auto",
    verbose: Verbose = 0,
) -> None:
    """Compute a case: field, voltage and balance of every string."""
    from .commands.predict import run_predict

    run_predict(case, out=out, quality=quality, changes=read_changes(changes), json=json, verbose=verbose,
                solver=solver)


@app.command()
def wind(
    case: Which,
    wanted: Annotated[
        str | None,
        typer.Option("--for", metavar="VALUE", show_default=False, help="Turns for 6.2kohm, or for 3.5H."),
    ] = None,
    at: Annotated[
        str | None,
        typer.Option("--at", metavar="TEMPERATURE", show_default=False, help="Of the wire; 20degC if left out."),
    ] = None,
    coil: Annotated[
        str | None,
        typer.Option("--coil", metavar="NAME", show_default=False, help="Of several coils: whose turns may change."),
    ] = None,
    spool: Annotated[
        str | None,
        typer.Option("--spool", metavar="MASS", show_default=False, help="How many coils 100g of wire makes."),
    ] = None,
    changes: Changes = None,
    json: Json = False,
    verbose: Verbose = 0,
) -> None:
    """What to wind, and turns for a wanted value."""
    from .commands.wind import run_wind

    run_wind(case, wanted=wanted, at=at, spool=spool, changes=read_changes(changes), json=json, coil=coil)


@app.command()
def impedance(
    case: Which,
    out: Out = None,
    quality: Quality = "normal",
    changes: Changes = None,
    json: Json = False,
    verbose: Verbose = 0,
) -> None:
    """Impedance and resonance, bare and loaded; SPICE."""
    from .commands.impedance import run_impedance

    run_impedance(case, out=out, quality=quality, changes=read_changes(changes), json=json)


for group in ((cli_strings.signal, cli_strings.pull, cli_strings.hum, cli_strings.mix, cli_bench.readings,
               cli_verify.verify),
              cli_studies.COMMANDS):
    for command in group:
        app.command()(command)


@app.command()
def report(
    case: Which,
    out: Annotated[
        str | None,
        typer.Option("--out", metavar="FILE", show_default=False, help="HTML file; CASE-report.html if left out."),
    ] = None,
    quality: Quality = "normal",
    changes: Changes = None,
    verbose: Verbose = 0,
) -> None:
    """All of it as one HTML page, to print or hand on."""
    from .commands.report import run_report

    run_report(case, out=out, quality=quality, changes=read_changes(changes))


@app.command("check-case")
def check_case(
    case: Which,
    out: Annotated[str, typer.Option("--out", metavar="DIR", help="Folder for the drawing.")] = ".",
    changes: Changes = None,
    verbose: Verbose = 0,
) -> None:
    """Check a case and draw it to scale."""
    from .commands.check import run_check

    run_check(case, out=out, changes=read_changes(changes))


@app.command()
def start(
    file: Annotated[str, typer.Argument(metavar="FILE", help="The new case file.", show_default=False)],
    force: Force = False,
    verbose: Verbose = 0,
) -> None:
    """Write a commented case file to edit."""
    from .files.start import next_line, write_start

    path = write_start(file, force=force)
    lines = "\n".join(f"  {next_line(command, str(path))}" for command in ("check-case", "predict"))
    print(f"Wrote {path}. Edit it, then:\n{lines}")


@app.command()
def cases(verbose: Verbose = 0) -> None:
    """List the shipped cases."""
    from .commands.lists import run_cases

    run_cases(paths=verbose > 0)


@app.command()
def materials(
    name: Annotated[
        str | None, typer.Argument(metavar="NAME", help="One material, with its source.", show_default=False)
    ] = None,
    plot: Annotated[bool, typer.Option("--plot", help="Draw its curve into NAME.png.")] = False,
    out: Annotated[
        str | None,
        typer.Option("--out", metavar="FILE", show_default=False, help="Draw into this PNG, SVG or PDF."),
    ] = None,
    force: Force = False,
    verbose: Verbose = 0,
) -> None:
    """List the materials, or show one."""
    from .commands.lists import run_materials

    run_materials(name, plot=plot, out=out, force=force)


@app.command()
def schema(
    out: Annotated[
        str | None, typer.Option("--out", metavar="FILE", show_default=False, help="Write it into this file.")
    ] = None,
    force: Force = False,
    verbose: Verbose = 0,
) -> None:
    """Print the JSON schema of case files."""
    from .commands.check import run_schema

    run_schema(out, force=force)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line; the exit code."""
    args = list(sys.argv[1:] if arguments is None else arguments)
    loud = sum(len(a) - 1 for a in args if a.strip("v") == "-") + args.count("--verbose")
    if arguments is None:
        if sys.stdout is None:
            print("stringflux: standard output is closed, so there is nowhere to write; send it to a file, or to "
                  "/dev/null", file=sys.stderr)
            return 1
        _settle(quiet=loud < 2)
    try:
        if arguments is None:
            ending.orderly()
        code = _run(args or ["--help"])
        sys.stdout.flush()
    except KeyboardInterrupt:
        code = STOPPED
    except BrokenPipeError:
        _nothing_to_flush()  # whoever read our output has closed it
        return 1
    except Exception as error:
        code, sentence = _told(error)
        if ending.told() and not isinstance(error, StudyStopped):
            code = STOPPED  # some library's word for the interruption
        else:
            if loud > 1:
                traceback.print_exc()
            if arguments is None and isinstance(error, OSError) and error.errno in FULL:
                _nothing_to_flush()
            print(f"stringflux: {sentence}", file=sys.stderr)
            return ending.told() or code
    if code == STOPPED:
        print(ending.SAID, end="", file=sys.stderr)
    return ending.told() or code


def _nothing_to_flush() -> None:
    """What could not be written is not tried once more at the end of the process."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _settle(*, quiet: bool) -> None:
    """What belongs to a process of our own, not to a program that calls `main`."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a terminal without µ shall not stop the answer
    # the dense problems here are small: more threads in the linear algebra only wait for each other
    for library in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(library, "1")
    if quiet and not sys.warnoptions:
        warnings.simplefilter("ignore")  # of libraries; ours are sentences


def _run(args: list[str]) -> int:
    command = typer.main.get_command(app)
    try:
        # without standalone mode faults come out as exceptions, and Ctrl-C as its exit code
        return int(command.main(args, prog_name="stringflux", standalone_mode=False) or 0)
    except typer.Abort:
        return STOPPED


def _told(error: Exception) -> tuple[int, str]:
    """Exit code and sentence of an error."""
    if isinstance(error, StringfluxError):
        return error.exit_code, str(error)
    if isinstance(error, USAGE):
        context = getattr(error, "ctx", None)
        path = getattr(context, "command_path", "stringflux")
        text = str(getattr(error, "format_message", error.__str__)()).rstrip(".")
        return 2, f"{text[:1].lower()}{text[1:]}; `{path} --help` shows what fits"
    if isinstance(error, OSError) and error.errno in FULL:
        return 1, f"there is no room left where this is written ({error.strerror}); make room, or write elsewhere"
    if isinstance(error, MemoryError):
        return 1, "this takes more memory than the machine has to give; take --quality draft, or fewer --workers"
    first = (str(error).strip().splitlines() or [""])[0][:200]
    what = f"{type(error).__name__}: {first}" if first else type(error).__name__
    return 1, f"something went wrong that should not ({what}); run again with -vv for the traceback"

