"""What marks come from, as digests: pack, module, form, keys and the software itself."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from functools import lru_cache
from importlib import resources
from pathlib import Path

from trainkit.modules import PlannedItem


@lru_cache(maxsize=1)
def software_digest() -> str:
    """Return the SHA-256 of the source of both packages, in hexadecimal digits.

    Examples
    --------
    >>> len(software_digest())
    64
    """
    total = hashlib.sha256()
    for package in ("trainkit", "trainkit_grading"):
        home = Path(str(resources.files(package)))
        files = sorted((path.relative_to(home).as_posix(), path) for path in home.rglob("*.py"))
        for name, path in files:
            # Line ends are the checkout's, not the software's.
            content = hashlib.sha256(path.read_bytes().replace(b"\r\n", b"\n")).hexdigest()
            total.update(f"{package}/{name} {content}\n".encode())
    return total.hexdigest()


def module_digest(module: str, plan: tuple[PlannedItem, ...], not_askable: Mapping[str, tuple[str, ...]]) -> str:
    """Return the SHA-256 of a module's items as they were planned when its forms were drawn.

    What the pack could not show of it is a part, where there is such a thing.
    """
    said: list[object] = [module, [item.model_dump(mode="json") for item in plan]]
    if not_askable:
        said.append({item: list(codes) for item, codes in not_askable.items()})
    text = json.dumps(said, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()
