"""Completion of the command line in bash, zsh, fish and PowerShell: scripts that ask the program itself.

Bash, zsh and fish are click's own. In all four the shell calls `gistools` with `_GISTOOLS_COMPLETE` set, so
the answers come from the same declarations as the commands.
"""

from __future__ import annotations

import os
from typing import Any

import click
from click.shell_completion import (
    CompletionItem,
    ShellComplete,
    add_completion_class,
    get_completion_class,
    split_arg_string,
)

VARIABLE = "_GISTOOLS_COMPLETE"
SHELLS = ("bash", "zsh", "fish", "powershell")


class PowerShellComplete(ShellComplete):
    """Completion in PowerShell 5 and later."""

    name = "powershell"
    source_template = """\
Register-ArgumentCompleter -Native -CommandName %(prog_name)s -ScriptBlock {
    param($wordToComplete, $commandAst, $cursorPosition)
    $env:COMP_LINE = $commandAst.Extent.Text.PadRight($cursorPosition).Substring(0, $cursorPosition)
    $env:%(complete_var)s = "powershell_complete"
    try {
        %(prog_name)s | ForEach-Object {
            $type, $value, $help = $_ -split "`t", 3
            if ($type -ne "plain") {
                Get-ChildItem -Path "$wordToComplete*" | ForEach-Object {
                    $path = Resolve-Path -Relative -LiteralPath $_.FullName
                    [Management.Automation.CompletionResult]::new($path, $_.Name, "ProviderItem", $path)
                }
            } else {
                [Management.Automation.CompletionResult]::new($value, $value, "ParameterValue", $help)
            }
        }
    } finally {
        Remove-Item Env:COMP_LINE, Env:%(complete_var)s
    }
}
"""

    def get_completion_args(self) -> tuple[list[str], str]:
        """Return the words before the one to complete, and that one as far as it is typed."""
        line = os.environ["COMP_LINE"]
        words = split_arg_string(line)
        incomplete = words.pop() if words and not line.endswith(" ") else ""
        return words[1:], incomplete

    def format_completion(self, item: CompletionItem) -> str:
        """Return a line of type, value and help, parted by tabs; help is never empty, as PowerShell asks."""
        return f"{item.type}\t{item.value}\t{item.help or item.value}"


add_completion_class(PowerShellComplete)


@click.command()
@click.option("--shell", type=click.Choice(SHELLS), required=True, help="The shell it is for.")
@click.pass_context
def completion(context: click.Context, shell: str) -> None:
    """Print the script that completes commands and options at the press of Tab.

    Bash: `gistools completion --shell bash > ~/.gistools.bash`, and `source ~/.gistools.bash` in `~/.bashrc`;
    zsh and fish alike. PowerShell: `gistools completion --shell powershell | Out-String |
    Invoke-Expression` in `$PROFILE`.
    """
    kind: Any = get_completion_class(shell)
    click.echo(kind(context.find_root().command, {}, "gistools", VARIABLE).source())
