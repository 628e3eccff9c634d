"""The code of a form as it stands on paper: in two groups, with a check sign after them.

The check sign is a weighted sum over the field of 31 signs. It catches every single sign that is wrong, and every two
that changed places, the check sign among them (the weights differ and 31 is a prime).
"""

from __future__ import annotations

import re

from trainkit_grading.course.seeds import ALPHABET
from trainkit_grading.errors import PaperError
from trainkit_grading.support.plaintext import one_line

_SIGNS = ALPHABET + "0"  # a prime number of signs; the last one only ever stands in the last place
_MEANT = str.maketrans({"O": "0"})  # what people write for the nought


def check_sign(code: str) -> str:
    """Return the check sign of a form's code.

    Examples
    --------
    >>> check_sign("3F2E5RE8")
    'P'
    """
    return _SIGNS[sum(weight * _SIGNS.index(sign) for weight, sign in enumerate(code, start=2)) % len(_SIGNS)]


def on_paper(code: str) -> str:
    """Return a code as it is printed.

    Examples
    --------
    >>> on_paper("3F2E5RE8")
    '3F2E 5RE8 – P'
    """
    half = len(code) // 2
    return f"{code[:half]} {code[half:]} – {check_sign(code)}"


def to_type(code: str) -> str:
    """Return a code as it is typed.

    Examples
    --------
    >>> to_type("3F2E5RE8")
    '3F2E5RE8-P'
    """
    return f"{code}-{check_sign(code)}"


def read_code(typed: str) -> str:
    """Return the code of the form that somebody typed with its check sign; spaces and hyphens do not matter.

    Raises
    ------
    PaperError
        If it is no such code, or the check sign does not belong to it.

    Examples
    --------
    >>> read_code("3f2e 5re8-p")
    '3F2E5RE8'
    """
    signs = re.sub(r"[\s\u2010-\u2015-]+", "", typed).upper().translate(_MEANT)
    code, check = signs[:-1], signs[-1:]
    if len(code) != 8 or set(code) - set(ALPHABET) or check not in _SIGNS:
        raise PaperError(
            one_line(typed)[:40],
            rule="The code of a form has eight signs and a check sign; I, L, O, U and 1 are not among them.",
            remedy="Type it as it stands at the head of every page of the sheet.",
        )
    if check != check_sign(code):
        raise PaperError(
            one_line(typed)[:40],
            rule="The check sign does not belong to the other eight: one of them is mistyped.",
            remedy="Compare it sign by sign with the head of the sheet.",
        )
    return code
