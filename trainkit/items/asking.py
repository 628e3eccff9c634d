"""Whether two items ask the same question: what stands for it in short."""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainkit.items.kinds import Item


def asked(item: Item) -> str:
    """Return what stands for the question that an item asks, in whatever order its options or cards stand.

    Examples
    --------
    >>> from trainkit.items.kinds import ChoiceItem, Option
    >>> on, back = "on", "back"
    >>> one = ChoiceItem(prompt="Which way?", options=(Option(id="a", text=on), Option(id="b", text=back)))
    >>> other = ChoiceItem(prompt="Which way?", options=(Option(id="a", text=back), Option(id="b", text=on)))
    >>> asked(one) == asked(other)
    True
    """
    shown = item.model_dump(mode="json", exclude={"points"})
    for part in ("options", "cards", "rows"):
        if part in shown:
            shown[part] = sorted(entry["text"] for entry in shown[part])
    # The letters of a written order are given by chance; the order itself is part of the question.
    if "written" in shown:
        shown["written"] = [entry["text"] for entry in shown["written"]]
        shown["missing"] = shown["missing"]["text"]
    text = json.dumps(shown, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()
