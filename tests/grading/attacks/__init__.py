"""Submissions that try to get marks, secrets or a foothold, as data; ``test_attacks.py`` runs them all."""

from __future__ import annotations

from attacks.base import Attack, Given, Scene
from attacks.folders import FOLDERS
from attacks.journals import JOURNALS
from attacks.payloads import ELSEWHERE, SHORT, TEXTS
from attacks.zips import ZIPS

__all__ = ["ATTACKS", "ELSEWHERE", "SHORT", "TEXTS", "Attack", "Given", "Scene"]

ATTACKS: tuple[Attack, ...] = (*FOLDERS, *JOURNALS, *ZIPS)
