"""`gridmap`: the group of commands, loaded only when called, and errors turned into one line and an exit code."""

from __future__ import annotations

import importlib
import sys

import click

from gridmap._version import VERSION
from gridmap.errors import EXIT_OURS, GridmapError

COMMANDS = {
    "demo": "Map the small survey that comes with gridmap.",
    "plan": "Plan a survey before walking it: antenna, spacing, lines, field sheet.",
    "check": "Judge the lines before leaving the site: complete, or walk again.",
    "watch": "Judge each line as its file arrives, while the crew is still there.",
    "map": "Map a survey: from line files and a site file to maps.",
    "review": "Look at a map in the browser, judge and draw features.",
    "report": "Write the report of a map: PDF, HTML, tables.",
    "view": "Show the 3D scene of a map in a window.",
    "handover": "Make a folder for a GIS or CAD office.",
    "lines": "Say what is known of every line, and what looks wrong.",
    "score": "Compare a map with known ground.",
    "new": "Write a site file for a folder of line files, to be edited.",
    "info": "Say what is in line files.",
    "completion": "Print the set-up for completion in a shell.",
}
"""Name of each command and its line in `gridmap --help`; the command lies in the module of the same name."""


_STOPPED = "stopped before the end; nothing was written."


class LazyGroup(click.Group):
    """A group whose commands are imported when one of them is called, so that --help is quick."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names in the order in which a newcomer meets them."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import the command's module."""
        if cmd_name not in COMMANDS:
            return None
        command = importlib.import_module(f"gridmap.cli.{cmd_name}_command").command
        assert isinstance(command, click.Command)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands from `COMMANDS` alone, without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(
    cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100}
)
@click.version_option(VERSION, prog_name="gridmap")
@click.option("--traceback", is_flag=True, help="Show where in the program an error arose (for reports).")
def cli(traceback: bool) -> None:
    """Turn ground-penetrating-radar lines walked over a grid into maps of what lies below.

    \b
    Start here:
      gridmap demo                          see a whole job done on a small survey
      gridmap plan REQUEST.toml -o PLAN     plan a survey: what can be seen, where to walk
      gridmap new FOLDER                    write a site file for your lines, then edit it
      gridmap map FOLDER/site.toml -o OUT   make the map

    Exit codes: 0 done; 1 done, but something needs attention (it is listed); 2 something in your files or
    command is wrong, nothing was written; 3 our fault.
    """


def run() -> None:
    """Entry point of the `gridmap` program."""
    show = "--traceback" in sys.argv
    try:
        code = cli.main(standalone_mode=False)
        sys.exit(code if isinstance(code, int) else 0)
    except click.exceptions.Abort as stop:
        _stop(str(stop.__cause__ or "") or _STOPPED, 130)
    except click.ClickException as problem:
        problem.show()
        sys.exit(problem.exit_code)
    except GridmapError as problem:
        if show:
            raise
        _stop(" ".join(str(problem).split()), problem.exit_code)
    except KeyboardInterrupt as stop:
        _stop(str(stop) or _STOPPED, 130)
    except MemoryError:
        if show:
            raise
        _stop("out of memory. Map fewer lines at a time, or set a larger cell_m in [processing].", EXIT_OURS)
    except Exception as problem:  # the last line of defence: no traceback for a user
        if show:
            raise
        kind = type(problem).__name__
        _stop(f"our fault: {kind}: {problem}. Please report it with the output of --traceback.", EXIT_OURS)


def _stop(message: str, code: int) -> None:
    click.echo(f"gridmap: {message}", err=True)
    sys.exit(code)
