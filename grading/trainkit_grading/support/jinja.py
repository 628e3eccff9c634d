"""The templates of the pages that the course side writes: everything put into them is escaped."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from trainkit.sentences import decimal
from trainkit_grading.support.markup import plain

if TYPE_CHECKING:
    from jinja2 import Template


@lru_cache(maxsize=8)
def template(name: str) -> Template:
    """Return a template by its path in the package; each lies beside the code that fills it in.

    What is not there when a page is written is an error, never an empty place.

    Examples
    --------
    >>> template("reports/score_sheet.html.j2").name
    'reports/score_sheet.html.j2'
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("trainkit_grading", ""),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {"number": decimal, "plain": plain}
    return environment.get_template(name)
