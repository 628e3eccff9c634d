"""What a pack says of itself, and its cautions."""

from __future__ import annotations

import random

from tests.trainkit.random_packs.writing import Document
from trainkit.packs.work import USUAL_CAUTIONS


def heading(rng: random.Random, document: Document) -> None:
    """Fill in what stands above the tables; the name comes last, as it is not drawn."""
    document |= {
        "format": 1,
        "name": "",
        "title": f"Engine {rng.randrange(100, 1000)} of nobody",
        "notice": {"values": "invented", "text": "This engine does not exist."},
    }


def cautions(rng: random.Random, document: Document) -> None:
    """Fill in the usual cautions, in any order, and sometimes one more."""
    kinds = [*USUAL_CAUTIONS]
    rng.shuffle(kinds)
    document["hazards"] = [
        {"kind": kind, "title": kind.replace("-", " ").title(), "text": f"Take care: {USUAL_CAUTIONS[kind]}."}
        for kind in kinds
    ]
    if rng.random() < 0.3:
        document["hazards"].append(
            {"kind": "other", "title": "Noise", "text": "Wear ear defenders in the engine house."}
        )
