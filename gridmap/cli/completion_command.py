"""`gridmap completion`: the set-up for completion in a shell, as click makes it."""

from __future__ import annotations

import click
from click.shell_completion import get_completion_class


@click.command("completion", short_help="Print the set-up for completion in a shell.")
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def command(shell: str) -> int:
    """Print what a shell needs to complete gridmap's commands and options with the Tab key.

    \b
    Examples:
      gridmap completion bash >> ~/.bashrc
      gridmap completion zsh >> ~/.zshrc
      gridmap completion fish > ~/.config/fish/completions/gridmap.fish
    """
    from gridmap.cli.main import cli

    found = get_completion_class(shell)
    assert found is not None
    click.echo(found(cli, {}, "gridmap", "_GRIDMAP_COMPLETE").source())
    return 0
