"""The look of the pictures and controls: one palette, light and dark, and the line types of ISO 128.

Inside JupyterLab its theme decides between light and dark, elsewhere the reader's system does. Every colour of the
palette has a contrast of at least 4.5 on its paper.
"""

from __future__ import annotations

# Role: light, dark.
PALETTE = {
    "paper": ("#fbfaf6", "#14191d"),
    "ink": ("#1b2a33", "#e9edef"),
    "quiet": ("#51616b", "#a7b4bc"),
    "accent": ("#0b6e72", "#5ec6c4"),
    "caution": ("#8a4b00", "#e6a23c"),
    "danger": ("#a3262a", "#ff8f8a"),
    "settled": ("#2f6b2f", "#8fce8b"),
}


def themed(selector: str) -> str:
    """Return the rules that give elements of ``selector`` the palette as variables ``--tk-<role>``.

    Examples
    --------
    >>> "--tk-ink: #1b2a33" in themed(".tk-figure")
    True
    """
    light = "; ".join(f"--tk-{role}: {pair[0]}" for role, pair in PALETTE.items())
    dark = "; ".join(f"--tk-{role}: {pair[1]}" for role, pair in PALETTE.items())
    return (
        f"{selector} {{ {light}; color-scheme: light }}\n"
        f"@media (prefers-color-scheme: dark) {{ {selector} {{ {dark}; color-scheme: dark }} }}\n"
        # JupyterLab's theme goes before the system's; on paper it is always light.
        f'[data-jp-theme-light="true"] {selector} {{ {light}; color-scheme: light }}\n'
        f'[data-jp-theme-light="false"] {selector} {{ {dark}; color-scheme: dark }}\n'
        f"@media print {{ {selector}, [data-jp-theme-light] {selector} {{ {light}; color-scheme: light }} }}\n"
    )


# A line of the drawing that runs behind a word is broken there: words are edged with paper.
_LINES = """
.tk-figure { display: block; max-width: 100%; height: auto; background: var(--tk-paper) }
.tk-figure text { fill: var(--tk-ink); font: 15px system-ui, sans-serif; font-variant-numeric: tabular-nums;
  paint-order: stroke; stroke: var(--tk-paper); stroke-width: 4px; stroke-linejoin: round }
.tk-figure .quiet { fill: var(--tk-quiet) }
.tk-figure .strong { font-weight: 600 }
.tk-figure .edge { fill: none; stroke: var(--tk-ink); stroke-width: 2.4 }
.tk-figure .solid { fill: var(--tk-paper); stroke: var(--tk-ink); stroke-width: 2.4 }
.tk-figure .open { fill: transparent }
.tk-figure .rim { fill: var(--tk-paper); stroke: var(--tk-ink); stroke-width: 1.2; stroke-linejoin: round }
.tk-figure .centre { fill: none; stroke: var(--tk-quiet); stroke-width: 1; stroke-dasharray: 14 3 2 3 }
.tk-figure .mark { fill: none; stroke: var(--tk-ink); stroke-width: 4 }
.tk-figure .hidden { fill: none; stroke: var(--tk-ink); stroke-width: 1.2; stroke-dasharray: 6 3 }
.tk-figure .thin { fill: none; stroke: var(--tk-quiet); stroke-width: 1 }
.tk-figure .filled { fill: var(--tk-ink); stroke: var(--tk-ink); stroke-width: 1 }
.tk-figure .moves { fill: none; stroke: var(--tk-accent); stroke-width: 3 }
.tk-figure .arrow { fill: var(--tk-accent); stroke: none }
.tk-figure .accent { fill: var(--tk-accent); stroke: var(--tk-ink); stroke-width: 1 }
.tk-figure text.moving { fill: var(--tk-accent) }
.tk-figure text.caution { fill: var(--tk-caution) }
.tk-figure text.danger { fill: var(--tk-danger) }
.tk-figure text.settled { fill: var(--tk-settled) }
.tk-figure .compared { fill: none; stroke: var(--tk-ink); stroke-width: 2.4; pointer-events: none }
.tk-figure .broken { stroke: var(--tk-caution); stroke-dasharray: 9 5 }
.tk-figure .unseen { fill: transparent; stroke: none }
.tk-figure .paper, .tk-figure .back { fill: var(--tk-paper); stroke: none }
.tk-figure .back { pointer-events: none }
@media print { .tk-figure { break-inside: avoid } }
"""

CSS = themed(".tk-figure") + _LINES
"""The style sheet of the pictures, for a page that shows many and includes it once."""
