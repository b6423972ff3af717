"""The command `stringflux`. A command's options and work stand in a module of its own, loaded when it is called."""

from __future__ import annotations

import errno
import os
import sys
import traceback
import warnings
from collections.abc import Sequence
from importlib import import_module
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from stringflux.geometry.errors import CaseError, StringfluxError, StudyStopped
from stringflux.geometry.reading.old_words import OldWordWarning
from stringflux.geometry.units import shown
from stringflux.solver.aside import allow

from . import ending

STOPPED = 130
FULL = (errno.ENOSPC, errno.EDQUOT, errno.EIO)
USAGE: type[Exception] = typer.BadParameter.__bases__[0]  # every fault of the command line itself

COMMANDS = {
    "predict": (".commands.predict", "Compute a case: field, voltage and balance of every string."),
    "live": (".commands.live", "Open a page where the pickup is moved by hand."),
    "wind": (".commands.wind", "What to wind, and turns for a wanted value."),
    "impedance": (".commands.impedance", "Impedance and resonance, bare and loaded; SPICE."),
    "signal": (".commands.signal", "Pluck every string: millivolts, harmonics, sound files."),
    "demonstrate": (".commands.demonstrate", "One law of induction, for a class to see, hear and work out."),
    "worksheet": (".commands.worksheet", "A page of questions for a class, and its key."),
    "pull": (".commands.pull", "How the magnets pull the strings out of tune."),
    "force": (".commands.force", "How strongly magnets and steel pull a body or a pole."),
    "flux": (".commands.flux", "Static flux in a section of a body, or through a disc."),
    "hum": (".commands.hum", "How much of the mains the pickup hears."),
    "mix": (".commands.mix", "Several pickups through their controls: levels, resonance."),
    "readings": (".commands.readings", "Hold bench readings against the prediction, and fit."),
    "verify": (".commands.verify", "Hold a case against a full 3-D solution."),
    "compare": (".studies.compare.command", "Compare designs that differ in some fields."),
    "design": (".studies.wishes.command", "Find designs that meet wishes, or the wish in the way."),
    "balance": (".studies.balance.command", "Even out the strings by tilt or by pole heights."),
    "shape": (".studies.shape.command", "Find a better pole tip; table, DXF and drawing to turn it."),
    "tolerance": (".studies.tolerance.command", "Tell how pickups made alike differ, and why."),
    "report": (".commands.report", "All of it as one HTML page, to print or hand on."),
    "check-case": (".commands.check", "Check a case and draw it to scale."),
    "start": (".commands.start", "Write a commented case file to edit."),
    "cases": (".commands.lists", "List the shipped cases."),
    "materials": (".commands.lists", "List the materials, or show one."),
    "schema": (".commands.check", "Print the JSON schema of case files."),
}
"""In the order of use: where each is, as a function of its name with _ for -, and its line in the help."""


class _Commands(TyperGroup):
    """The commands in the order of use, and a sentence for one that is not there."""

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        # a shell that asks how to go on gets no answer to what is not there
        if not args[0].startswith("-") and args[0] not in COMMANDS and not ctx.resilient_parsing:
            from stringflux.geometry.case.keys import near

            raise CaseError(
                f"there is no command {shown(args[0])}{near(args[0], COMMANDS)}; "
                f"the commands are {', '.join(COMMANDS)}"
            )
        return super().resolve_command(ctx, args)

    def list_commands(self, ctx: Any) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """The command, loaded now; None if there is none of that name."""
        if cmd_name not in COMMANDS:
            return None
        home, says = COMMANDS[cmd_name]
        alone = typer.Typer(add_completion=False, rich_markup_mode=None)
        alone.command(cmd_name, help=says)(getattr(import_module(home, __package__), cmd_name.replace("-", "_")))
        return typer.main.get_command(alone)

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """The list in the help, for which no command is loaded."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, says) for name, (_, says) in COMMANDS.items()])


app = typer.Typer(
    cls=_Commands,
    context_settings={"help_option_names": ["-h", "--help"]},
    rich_markup_mode=None,  # plain help: a third of the time
    help="What a wound pickup for steel-string instruments will do, before anyone winds it.",
    epilog="CASE is a file, or the name of a shipped case. Exit code 2: yours to mend; 1: anything else.",
)


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


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line; the exit code."""
    ending.begun()
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
        print(ending.said(), end="", file=sys.stderr)
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
    allow()
    if quiet and not sys.warnoptions:
        warnings.simplefilter("ignore")  # of libraries; ours are sentences
        warnings.simplefilter("default", OldWordWarning)
    warnings.showwarning = _noted


def _noted(message: Warning | str, category: type[Warning], filename: str, lineno: int, file: Any = None,
           line: str | None = None) -> None:
    """A warning of ours as a note; others, which --verbose lets through, as Python prints them."""
    text = f"Note: {message}." if issubclass(category, OldWordWarning) else warnings.formatwarning(
        message, category, filename, lineno, line).rstrip()
    print(text, file=file or sys.stderr)


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

