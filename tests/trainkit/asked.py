"""Questions of every kind, a good answer to each, and how the page talks to them."""

from __future__ import annotations

import json
from typing import Any

from tests.trainkit.given_out import CHOICE
from trainkit.items.kinds import (
    Card,
    GridItem,
    InsertItem,
    Item,
    NumberItem,
    Option,
    OrderItem,
    PointItem,
    Scale,
    SetItem,
    SeveralItem,
    TextItem,
)

NASTY = "<img src=x onerror=alert(1)> & \"'"
UNITS = ("N·m", "lbf·ft", "lbf·in")
NUMBER = NumberItem(prompt="What do you set?", units=UNITS, to_nearest="to the nearest 1 lbf·ft")
ANGLE = NumberItem(prompt="How far does the crank turn?", units=("°",), to_nearest="to the nearest degree")
SEVERAL = SeveralItem(prompt="Which?", options=(Option(id="a", text="seal"), Option(id="b", text="bolt")))
ORDER = OrderItem(prompt="In order:", cards=tuple(Card(id=name, text=f"Step {name}.") for name in "abcd"))
INSERT = InsertItem(
    prompt="Where?", written=(Card(id="a", text="First"), Card(id="b", text="Last")), missing=Card(id="m", text="Lock")
)
POINT = PointItem(
    prompt="Which comes next?",
    figure={"draw": "bolts", "noun": "screw", "bolts": [{"id": "1", "x": 0, "y": 9}, {"id": "2", "x": 0, "y": -9}]},
    targets=(Option(id="1", text="Screw 1"), Option(id="2", text="Screw 2")),
)
CLOCK = SetItem(prompt="Where?", scale=Scale(low=0.0, high=12.0, step=0.25, unit="o'clock", round=True))
WRENCH = SetItem(prompt="Set it.", scale=Scale(low=20.0, high=100.0, step=0.5, unit="N·m"))
GRID = GridItem(
    prompt="What becomes of each?",
    rows=(Option(id="seal", text="Seal"), Option(id="gear", text="Gear")),
    columns=(Option(id="renew", text="renew"), Option(id="refit", text="refit")),
)
TEXT = TextItem(prompt="Say why.", limit=80)
GOOD: list[tuple[Item, dict[str, Any]]] = [
    (NUMBER, {"kind": "number", "text": "31", "unit": "lbf·ft"}),
    (CHOICE, {"kind": "choice", "option": "b"}),
    (SEVERAL, {"kind": "several", "options": ["b"]}),
    (ORDER, {"kind": "order", "cards": ["d", "a", "c", "b"]}),
    (INSERT, {"kind": "insert", "place": 1}),
    (POINT, {"kind": "point", "target": "2"}),
    (CLOCK, {"kind": "set", "value": 2.75}),
    (WRENCH, {"kind": "set", "value": 42.5}),
    (GRID, {"kind": "grid", "rows": {"seal": "renew"}}),
    (TEXT, {"kind": "text", "text": "<b>Because</b> the key falls."}),
]


def say(state: Any, **message: Any) -> dict[str, Any]:
    reply: dict[str, Any] = state.hear({"ticket": "t1", **message})
    assert reply["ticket"] == "t1"
    json.dumps(reply)  # it has to go through the wire
    return reply
