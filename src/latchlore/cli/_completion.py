"""`latchlore completion`: what a shell needs to complete our commands."""

from __future__ import annotations

import click

from latchlore.cli import wording

SHELLS = ("bash", "zsh", "fish")


@click.command("completion", short_help=wording.COMMANDS["completion"], epilog=wording.STATUSES)
@click.argument("shell", type=click.Choice(SHELLS))
@click.pass_context
def command(ctx: click.Context, shell: str) -> int:
    """Print the completion script for SHELL.

    bash, in ~/.bashrc:  eval "$(latchlore completion bash)".  zsh, in ~/.zshrc:  eval "$(latchlore completion zsh)".
    fish:  latchlore completion fish > ~/.config/fish/completions/latchlore.fish
    """
    from click.shell_completion import get_completion_class

    root = ctx.find_root()
    completion = get_completion_class(shell)
    assert completion is not None
    click.echo(completion(root.command, {}, "latchlore", "_LATCHLORE_COMPLETE").source())
    return 0
