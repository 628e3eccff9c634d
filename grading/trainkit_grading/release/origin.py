"""What the forms of a module are drawn from, and how a module that cannot be built is told of."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit.errors import NotReadyError, TrainkitError
from trainkit.pools import Missing
from trainkit_grading.course import given_out
from trainkit_grading.forms import generation
from trainkit_grading.support.outcome import Finding, refused

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course, CourseModule


def origin_of(course: Course, entry: CourseModule) -> tuple[given_out.Origin, list[Finding]]:
    """Return what the forms of the current attempt are drawn from, and what to tell of it.

    Until a form is given out that is pack and blueprint as they are now, then the course's copies.

    Raises
    ------
    ModuleError, PackError
        If pack or blueprint cannot be used.
    DrawingError
        If forms are out and what they were drawn from is not at hand any more.
    """
    if not generation.read_released(course.released_file(entry.name, entry.attempt)):
        return given_out.present(course, entry), []
    kept = given_out.kept(course, entry)
    keys = generation.open_keys(course.key_file(entry.name, entry.attempt))
    if kept is None and keys is not None:
        kept = given_out.found_again(course, entry, keys.head.plan, keys.head.pack_digest)
    if kept is None:
        kept = given_out.present(course, entry)
    if keys is not None:
        generation.refuse_changed(course, entry, keys.head, kept.blueprint, kept.pack)
    try:
        now = given_out.present(course, entry)
    except TrainkitError as error:
        return kept, [Finding("warning", entry.name, f"{stays_as_it_was(entry.attempt)} {error}")]
    return kept, [] if kept.same_as(now) else [Finding("note", entry.name, stays_as_it_was(entry.attempt))]


def stays_as_it_was(attempt: int) -> str:
    """Return the sentences about a pack or a blueprint that changed since forms were given out.

    Examples
    --------
    >>> stays_as_it_was(1)
    'Attempt 1 keeps pack and blueprint as they were given out. To use the new ones, set attempt = 2 in course.toml.'
    """
    return (
        f"Attempt {attempt} keeps pack and blueprint as they were given out. "
        f"To use the new ones, set attempt = {attempt + 1} in course.toml."
    )


def failed(error: Exception, module: str) -> list[Finding]:
    """Return what to tell of a module that could not be built, whatever happened.

    Examples
    --------
    >>> failed(ZeroDivisionError("division by zero"), "lock-pin")[0].text
    'The module failed unexpectedly: ZeroDivisionError: division by zero. Report this to the makers of trainkit.'
    """
    if isinstance(error, NotReadyError):
        return [missing(each, module) for each in error.missing if isinstance(each, Missing)]
    if isinstance(error, TrainkitError | OSError | MemoryError):
        return [refused(error, getattr(error, "place", "") or module)]
    said = f"{type(error).__name__}: {error}".rstrip(".")
    text = f"The module failed unexpectedly: {said}. Report this to the makers of trainkit."
    return [Finding("refused", module, text)]


def missing(of: Missing, module: str) -> Finding:
    """Return what to tell of an item that the pack cannot fill.

    Examples
    --------
    >>> missing(Missing("A3", "lock-pin/what-next", "a lock pin", "Add [lock_pin]."), "lock-pin")
    Finding(severity='refused', place='lock-pin A3', text='Not ready: a lock pin. Add [lock_pin].')
    """
    return Finding("refused", f"{module} {of.item}".strip(), f"Not ready: {of.needs}. {of.remedy}")
