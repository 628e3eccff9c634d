"""Submissions that try to get marks, secrets or a foothold, as data; ``test_attacks.py`` runs them all."""

from __future__ import annotations

from .base import Attack, Given, Scene
from .folders import FOLDERS
from .journals import JOURNALS
from .owners import OWNERS, Disk, Impostor
from .payloads import ELSEWHERE, SHORT, TEXTS
from .zips import ZIPS

__all__ = ["ATTACKS", "ELSEWHERE", "OWNERS", "SHORT", "TEXTS", "Attack", "Disk", "Given", "Impostor", "Scene"]

ATTACKS: tuple[Attack, ...] = (*FOLDERS, *JOURNALS, *ZIPS)
