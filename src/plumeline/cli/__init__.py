"""The command line: one file a command, loaded when it is called."""

from __future__ import annotations

import sys
from importlib import import_module

import click

from .. import __version__

__all__ = ["main"]

COMMANDS = {
    "demo": "write the sample quilt, stitch it, say what to look at",
    "new": "start a plan from a drawing or a table of blocks",
    "check": "read everything, change nothing, say what was found",
    "stitch": "the main job: from a plan to stitch files",
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

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(cls=_Lazy, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="plumeline")
def group() -> None:
    """Quilting lines that fit: from a pieced top and a short plan to stitches."""


def main(arguments: list[str] | None = None) -> None:
    """Run the command line and leave with its exit code.

    0 done, 1 our fault, 2 the user's input, 3 finished with findings under ``--strict``, 130 on Ctrl-C.
    """
    from ..errors import PlumelineError

    try:
        code = group.main(arguments, prog_name="plumeline", standalone_mode=False)
        sys.exit(code if isinstance(code, int) else 0)
    except click.exceptions.Exit as leave:
        sys.exit(leave.exit_code)
    except click.exceptions.NoArgsIsHelpError as help_wanted:
        help_wanted.show()
        sys.exit(help_wanted.exit_code)
    except click.ClickException as error:
        context = error.ctx if isinstance(error, click.UsageError) else None
        path = context.command_path if context else "plumeline"
        click.echo(f"{path}: {error.format_message().rstrip('.')}. See '{path} --help'.", err=True)
        sys.exit(error.exit_code)
    except (click.Abort, KeyboardInterrupt):
        click.echo("Stopped. Nothing was left half-written.", err=True)
        sys.exit(130)
    except PlumelineError as error:
        click.echo(str(error), err=True)
        sys.exit(error.exit_code)
