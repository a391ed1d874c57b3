"""The command line: one file a command, loaded when it is called."""

from __future__ import annotations

import errno
import os
import sys
from importlib import import_module
from io import TextIOWrapper
from pathlib import PurePath

import click

from .. import __version__
from ._stopping import Stop, stoppable

__all__ = ["main"]

COMMANDS = {
    "demo": "write the sample quilt, stitch it, say what to look at",
    "new": "start a plan from a drawing or a table of blocks",
    "blocks": "list the traditional blocks that a plan may name",
    "photo": "square a photo of the top up to true size",
    "map": "draw every patch, seam, guide and zone with its name",
    "straight": "say how straight seams, blocks and corners are",
    "set": "change a plan by key, comments kept",
    "check": "read everything, change nothing, say what was found",
    "stitch": "the main job: from a plan to stitch files",
    "compare": "put ideas side by side, as cloth and in figures",
    "fill": "try one fill on one shape",
    "fills": "list the fills and their settings",
    "continue": "after a thread break: write the rest of a stitch file",
    "refit": "fit one reach to where its marks lie now",
    "ideas": "draw ideas for one space, with reasons",
    "show": "write one page to send: cloth, stitching played, figures",
    "open": "work at a plan on a page in your browser",
    "inspect": "say what is in a stitch file or drawing",
    "paper": "stencils, tracing and ruler sheets at true size",
}


class _Lazy(click.Group):
    """A group that loads a command's file only when the command is called, so that it starts quickly."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = import_module(f".{cmd_name}", __name__).command
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        from ..errors import nearest, shown

        near = nearest(args[0], COMMANDS) if args[0] not in COMMANDS else None
        if near:
            ctx.fail(f"No such command '{shown(args[0])}'; the nearest is '{near}'")
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(cls=_Lazy, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="plumeline")
@click.option("--trace", is_flag=True, help="If the program itself fails, show all that it knows of the fault.")
def group(trace: bool) -> None:
    """Quilting lines that fit: from a pieced top and a short plan to stitches."""


STOPPED = 130
"""Exit code of a run that was asked to stop."""


def main(arguments: list[str] | None = None) -> None:
    """Run the command line and leave with its exit code.

    0 done, 1 our fault, 2 the user's input, 3 finished with findings under ``--strict``, 130 on Ctrl-C.

    Parameters
    ----------
    arguments : list of str, optional
        As after the command's name; those of this process when left out.
    """
    _speak_any_letters()
    given = list(sys.argv[1:] if arguments is None else arguments)
    trace = "--trace" in given
    with stoppable() as stop:
        code = _run([word for word in given if word != "--trace"], stop, trace=trace)
    sys.exit(code)


def _run(arguments: list[str], stop: Stop, *, trace: bool) -> int:
    """Run a command, say what went wrong, and return the exit code."""
    try:
        code = _called(arguments, trace=trace)
        if sys.stdout is not None:
            sys.stdout.flush()  # a full disk shows only now
    except KeyboardInterrupt:
        code = STOPPED
    except OSError as fault:  # every file of hers is read and written elsewhere: it is the words that can't be printed
        code = STOPPED if stop.asked else _unprintable(fault)
    # a Ctrl-C may have ended in another fault, or been lost on the way
    if code == STOPPED or stop.asked:
        _say("Stopped. Nothing was left half-written.")
        return STOPPED
    return code


def _called(arguments: list[str], *, trace: bool) -> int:
    from ..errors import PlumelineError, one_line

    try:
        code = group.main(arguments, prog_name="plumeline", standalone_mode=False)
    except click.exceptions.Exit as leave:
        return leave.exit_code
    except click.exceptions.NoArgsIsHelpError as help_wanted:
        help_wanted.show()
        return help_wanted.exit_code
    except click.ClickException as error:
        context = error.ctx if isinstance(error, click.UsageError) else None
        path = context.command_path if context else "plumeline"
        _say(f"{path}: {one_line(error.format_message()).rstrip('.')}. See '{path} --help'.")
        return error.exit_code
    except click.Abort:
        return STOPPED
    except PlumelineError as error:
        _say(str(error))
        return error.exit_code
    except MemoryError:
        _say(
            "plumeline: the memory of this computer does not hold this work. Choose wider spacings, or stitch some of "
            "the zones at a time with --zone."
        )
        return 1
    except OSError:
        raise
    except Exception as fault:  # noqa: BLE001 - the last door: a fault of ours is told in plain words
        return _our_fault(fault, trace=trace)
    return code if isinstance(code, int) else 0


def _our_fault(fault: Exception, *, trace: bool) -> int:
    from traceback import extract_tb, format_exception

    from ..errors import one_line

    if trace:
        _say("".join(format_exception(fault)).rstrip())
    last = extract_tb(fault.__traceback__)[-1]
    what = one_line(f"{type(fault).__name__}: {fault}")
    _say(
        f"plumeline {__version__}: a fault of the program itself, not of yours ({what}; "
        f"{PurePath(last.filename).name}, line {last.lineno}). Nothing was left half-written. "
        + (
            "Please send us all of this, with the plan and its drawing."
            if trace
            else "Please send us this line, the plan and its drawing; with --trace behind it the command says more."
        )
    )
    return 1


def _unprintable(fault: OSError) -> int:
    """Say that the words could not be printed, unless nobody reads them any more."""
    if sys.stdout is not None:
        # what is still waiting to be printed must not be tried again when the program ends
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    if fault.errno != errno.EPIPE:
        _say(f"plumeline: what was to be printed can't be: {fault.strerror or fault}.")
    return 1


def _say(text: str) -> None:
    try:
        click.echo(text, err=True)
    except OSError:  # nobody hears it; the exit code still says it
        os.dup2(os.open(os.devnull, os.O_WRONLY), 2)


def _speak_any_letters() -> None:
    """Print a name that the terminal has no letters for with question marks in their place."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="replace")
