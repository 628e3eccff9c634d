"""Texts that would run, load, steer or hide something wherever they are not shown as text.

Each would set ``window.hurt`` to its own name, or fetch something from a server that does not exist.
"""

from __future__ import annotations

__all__ = ["ELSEWHERE", "SHORT", "TEXTS"]

ELSEWHERE = "elsewhere.invalid"

TEXTS = {
    "script": f"<script>window.hurt='script';fetch('http://{ELSEWHERE}/script')</script>",
    "closing": "</textarea></title></style></script></div>--><script>window.hurt='closing'</script>",
    "image": "<img src=x onerror=\"window.hurt='image'\">",
    "svg": "<svg onload=\"window.hurt='svg'\"><a xlink:href='javascript:window.hurt=1'><text>31</text></a></svg>",
    "foreign": "<svg><foreignObject><img src=x onerror=\"window.hurt='foreign'\"></foreignObject></svg>",
    "mathml": "<math><mtext><table><mglyph><style><img src=x onerror=\"window.hurt='mathml'\">",
    "frame": "<iframe srcdoc=\"<script>parent.hurt='frame'</script>\"></iframe>",
    "object": "<object data=\"data:text/html,<script>parent.hurt='object'</script>\"></object>",
    "focus": '<button autofocus onfocus="window.hurt=\'focus\'">31</button><details open ontoggle="window.hurt=1">',
    "attribute": "\" autofocus onfocus=\"window.hurt='attribute'\" ' onmouseover='window.hurt=1' x=\"",
    "refresh": f"<meta http-equiv=refresh content='0;url=http://{ELSEWHERE}/refresh'>",
    "base": f"<base href='http://{ELSEWHERE}/'><link rel=stylesheet href=x.css><style>@import 'y.css';</style>",
    "pixel": f"![31](http://{ELSEWHERE}/pixel.png) <img src=http://{ELSEWHERE}/pixel2.png>",
    "markdown": "[press here](javascript:window.hurt='markdown')\n\n```html\n<script>window.hurt='fence'</script>\n```",
    "maths": r"$\href{javascript:window.hurt='maths'}{31}$ $$\require{html}\class{x}{31}$$ \(\style{color:red}{31}\)",
    "equation": r"\begin{equation}\href{javascript:window.hurt='equation'}{31}\end{equation} \[\unicode{x31}\]",
    "entity": "&lt;script&gt;window.hurt='entity'&lt;/script&gt; &#60;script&#62;window.hurt='entity'&#60;/script&#62;",
    "template": "{{ ''.__class__.__mro__ }} {% for x in range(9) %}31{% endfor %} ${7*7} <%= 7*7 %>",
    "formula": f'=HYPERLINK("http://{ELSEWHERE}/formula","31")',
    "terminal": "\x1b]0;hurt\x07\x1b[2J\x1b[31m31\x1b[0m \x9b31m \x08\x08\x08 31",
    "turning": "\u202e13\u202c \u2066mm\u2069 \u200f31\u200e \ufeff31",
    "markup": "[bold red]31[/] [link=http://elsewhere.invalid]31[/link]",
}

# For the strings of a journal that hold at most forty, twenty or eighty characters.
SHORT = ("<img src=x onerror=window.hurt=1>", "<b onfocus=hurt=1>", "<script>window.hurt='name'</script>\x1b[31m\u202e")
