"""One gear as ISO 2203 draws it: tip circle thick, pitch circle chain line, teeth only where they matter."""

from __future__ import annotations

from trainkit.figures.svg import around, element, polygon


def addendum(radius: float, teeth: int) -> float:
    """Return how far the tip circle lies outside the pitch circle: one module, but never too little to be seen."""
    return max(2 * radius / teeth, 3.0)


def reach(radius: float, teeth: int, *, ring: bool = False) -> float:
    """Return how far a gear goes from its middle: to its tips, a ring with inside teeth to its outside."""
    return radius + addendum(radius, teeth) * (2.5 if ring else 1)


def gear(x: float, y: float, radius: float, teeth: int, *, ring: bool = False) -> str:
    """Return a gear with pitch circle ``radius``: tip circle, pitch circle, centre lines and bore.

    A ring has its tip circle inside and no bore.
    """
    outside = reach(radius, teeth, ring=ring)
    over = outside + 7
    inside = radius - addendum(radius, teeth) if ring else max(4.0, radius * 0.12)
    return "".join(
        (
            element("circle", cx=x, cy=y, r=outside, class_="solid open"),
            element("circle", cx=x, cy=y, r=radius, class_="centre"),
            element("line", x1=x - over, y1=y, x2=x + over, y2=y, class_="centre"),
            element("line", x1=x, y1=y - over, x2=x, y2=y + over, class_="centre"),
            element("circle", cx=x, cy=y, r=inside, class_="edge"),
        )
    )


def rim(x: float, y: float, radius: float, teeth: int, phase: float = 0.0, *, ring: bool = False) -> str:
    """Return all teeth of a gear as one outline, one of them centred at ``phase``, degrees clockwise from twelve.

    They are drawn where a gear is seen to turn. Each is a little thinner than its space, so that two rims that mesh
    do not run into each other. The teeth of a ring point inwards.
    """
    over = radius / teeth * (-2 if ring else 2)
    root, tip = radius - 1.25 * over, radius + over
    pitch = 360 / teeth
    outline = [
        around(x, y, far, phase + pitch * (number + share))
        for number in range(teeth)
        for far, share in ((root, -0.3), (tip, -0.13), (tip, 0.13), (root, 0.3))
    ]
    around_it = element("circle", cx=x, cy=y, r=radius - 2.5 * over, class_="rim") if ring else ""
    return around_it + polygon(outline, "rim")


def tooth(x: float, y: float, radius: float, teeth: int, degrees: float, kind: str = "filled") -> str:
    """Return one tooth that stands at so many degrees clockwise from twelve; the witness tooth is filled.

    It is drawn no smaller than an eye can find at arm's length, so on a fine gear it is wider than true to scale.
    """
    half = max(90 / teeth, 260 / radius)  # half a tooth at the pitch circle, in degrees
    over = addendum(radius, teeth)
    root, tip = radius - max(1.25 * over, 7), radius + over
    return polygon(
        (
            around(x, y, root, degrees - half * 1.2),
            around(x, y, tip, degrees - half * 0.6),
            around(x, y, tip, degrees + half * 0.6),
            around(x, y, root, degrees + half * 1.2),
        ),
        kind,
    )


def hole(x: float, y: float, radius: float, degrees: float, *, pinned: bool = False, at: float = 0.62) -> str:
    """Return the hole for the lock pin with its centre lines; filled in the accent while the pin is in it."""
    px, py = around(x, y, radius * at, degrees)
    size = max(5.0, radius * 0.085)
    return "".join(
        (
            element("circle", cx=px, cy=py, r=size, class_="accent" if pinned else "solid"),
            element("line", x1=px - size - 4, y1=py, x2=px + size + 4, y2=py, class_="centre"),
            element("line", x1=px, y1=py - size - 4, x2=px, y2=py + size + 4, class_="centre"),
        )
    )


def pin_place(x: float, y: float, radius: float, degrees: float) -> str:
    """Return the place of the lock pin in the case behind a gear, with which its hole lines up."""
    px, py = around(x, y, radius * 0.62, degrees)
    return element("circle", cx=px, cy=py, r=max(5.0, radius * 0.085) + 4, class_="hidden")
