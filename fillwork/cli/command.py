"""A command whose ``--fit`` may stand alone."""

from __future__ import annotations

import click

__all__ = ["Command"]

_FITS = ("auto", "page", "true")


class Command(click.Command):
    """Read ``--fit`` without a value as ``--fit page``."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Return what is left of the arguments.

        Parameters
        ----------
        ctx : Context
            The call.
        args : list of str
            Its arguments.

        Returns
        -------
        list of str
            Arguments that no parameter took.
        """
        return super().parse_args(ctx, _whole(args))


def _whole(args: list[str]) -> list[str]:
    """Return arguments in which each ``--fit`` has its value."""
    found: list[str] = []
    for k, word in enumerate(args):
        if word == "--":
            return [*found, *args[k:]]
        alone = word == "--fit" and args[k + 1 : k + 2] not in [[f] for f in _FITS]
        found.append("--fit=page" if alone else word)
    return found
