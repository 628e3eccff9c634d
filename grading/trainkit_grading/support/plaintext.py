"""Text that somebody else wrote, without the signs that steer a terminal, turn text round or hide it."""

from __future__ import annotations

import re

# Characters that turn text round or hide it could make a wrong answer look right to a person.
_INVISIBLE = dict.fromkeys((*range(8234, 8239), *range(8294, 8298), 8206, 8207, 1564, 65279))
# Half letters come out of file names that are no text; no file and no terminal could take them.
_CONTROLS = dict.fromkeys((*range(9), 11, 12, *range(14, 32), *range(127, 160), *range(0xD800, 0xE000)), "\ufffd")
# Nearly every text has none of these, and looking for them costs a tenth of taking them out.
_ONE = "".join(re.escape(chr(sign)) for sign in (_INVISIBLE | _CONTROLS) if not 0xD800 <= sign < 0xE000)
_ANY = re.compile(rf"[{_ONE}\ud800-\udfff]")
_ENDS = dict.fromkeys((9, 10, 13, 0x2028, 0x2029), " ")


def plain(value: object) -> str:
    r"""Return ``value`` as text without characters that control how other text is shown.

    Examples
    --------
    >>> plain("4\u202e2\x1b")
    '42\ufffd'
    """
    said = str(value)
    return said.translate(_INVISIBLE).translate(_CONTROLS) if _ANY.search(said) else said


def one_line(value: object) -> str:
    r"""Return ``value`` as :func:`plain` text in one line, so that it cannot pass itself off as a line of its own.

    Examples
    --------
    >>> one_line("a.zip\nrefused: b.zip")
    'a.zip refused: b.zip'
    """
    return plain(value).translate(_ENDS)
