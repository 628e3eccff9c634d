"""The general warning sign, after ISO 7010 W001: a triangle with an exclamation mark, always beside words."""

from __future__ import annotations

from trainkit.figures.svg import element


def warning_sign(size: int = 40) -> str:
    """Return the sign as SVG: safety yellow with black, in light and in dark, as the standard has it.

    It is hidden from screen readers: the word beside it says the same.

    Examples
    --------
    >>> warning_sign().startswith("<svg ")
    True
    """
    return element(
        "svg",
        element(
            "path",
            d="M 50 8 L 96 88 Q 97 92 92 92 L 8 92 Q 3 92 4 88 Z",
            fill="#f9c80e",
            stroke="#16130a",
            stroke_width=7,
            stroke_linejoin="round",
        ),
        element("path", d="M 44 34 L 56 34 L 53.5 66 L 46.5 66 Z", fill="#16130a"),
        element("circle", cx=50, cy=77, r=5.5, fill="#16130a"),
        xmlns="http://www.w3.org/2000/svg",
        viewBox="0 0 100 100",
        width=size,
        height=size,
        class_="tk-sign",
        aria_hidden="true",
        focusable="false",
    )
