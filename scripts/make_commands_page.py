"""Write docs/commands.md from the commands' own help; a test fails when it is out of date."""

from __future__ import annotations

from pathlib import Path

import click

from gridmap.cli.main import COMMANDS, cli

PAGE = Path(__file__).parent.parent / "docs" / "commands.md"


def page() -> str:
    """Return the page as text: the help of the program and of each command, 100 columns wide."""
    parts = [
        "# Commands\n",
        "As the program itself says it; made by `python scripts/make_commands_page.py`.\n",
    ]
    width = {"terminal_width": 100, "max_content_width": 100, "help_option_names": ["-h", "--help"]}
    with click.Context(cli, info_name="gridmap", **width) as top:
        parts.append(f"## gridmap\n\n```text\n{cli.get_help(top)}\n```\n")
        for name in COMMANDS:
            command = cli.get_command(top, name)
            assert command is not None
            with click.Context(command, info_name=name, parent=top, **width) as inner:
                parts.append(f"## gridmap {name}\n\n```text\n{command.get_help(inner)}\n```\n")
    return "\n".join(parts)


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8", newline="\n")
