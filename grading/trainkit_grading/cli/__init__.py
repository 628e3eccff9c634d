"""The command ``trainkit-course``.

Each module of this package adds its commands with ``register(app)``. A command imports what it works with inside
its own function, so that ``--help`` and a typing slip answer at once.
"""

from __future__ import annotations

import typer

from trainkit_grading.cli import course, life, marking, packs, paperwork, recordkeeping, signoff

__all__ = ["app", "main"]

app = typer.Typer(
    name="trainkit-course",
    help="Run a course: make it, build and assign modules, collect, mark, report and prove.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
course.register(app)
life.register(app)
marking.register(app)
packs.register(app)
paperwork.register(app)
recordkeeping.register(app)
signoff.register(app)


def main() -> None:
    """Run the command."""
    app()
