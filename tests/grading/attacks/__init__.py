"""Submissions that try to get marks, secrets or a foothold, as data; ``test_attacks.py`` runs them all."""

from __future__ import annotations

from .answers import ANSWERS
from .base import Attack, Given, Scene
from .costly import COSTLY
from .folders import FOLDERS
from .identities import IDENTITIES
from .journals import JOURNALS
from .owners import OWNERS, Disk, Impostor
from .payloads import ELSEWHERE, SHORT, TEXTS
from .zips import ZIPS

__all__ = ["ATTACKS", "ELSEWHERE", "OWNERS", "SHORT", "TEXTS", "Attack", "Disk", "Given", "Impostor", "Scene"]

ATTACKS: tuple[Attack, ...] = (*FOLDERS, *JOURNALS, *ZIPS, *IDENTITIES, *COSTLY, *ANSWERS)
