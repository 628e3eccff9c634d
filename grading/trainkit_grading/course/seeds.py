"""The secret seed of a course and the keyed streams that grow from it.

One file, ``keys/seed``, 256 random bits, readable by its owner alone. Everything that has to look random and yet
come out the same again is an HMAC of the seed with a purpose and names: the draw of an item, the order in which its
options stand, the code on a form, the personal code of an apprentice. Whoever lacks the seed can predict none of
them, and knowing one tells nothing of another.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import os
import random
import re
import secrets
import stat
from dataclasses import dataclass, field
from pathlib import Path

from trainkit_grading.errors import SeedError
from trainkit_grading.support.sharing import GROUP, for_owner, shared_by_group

# No 0 and O, 1 and I, U: a code is read aloud and copied by hand.
ALPHABET = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
"""The signs of every code."""


@dataclass(frozen=True, slots=True)
class Seed:
    """A secret seed; it shows nothing of itself when printed.

    Examples
    --------
    >>> seed = Seed(bytes(32))
    >>> seed
    Seed()
    >>> seed.stream("draw", "amir").random() == seed.stream("draw", "amir").random()
    True
    >>> len(seed.code("form", "amir", length=8))
    8
    """

    secret: bytes = field(repr=False)

    @classmethod
    def create(cls, path: Path) -> Seed:
        """Make a new seed in ``path`` and return it; an existing one is kept.

        The folder is made readable by its owner alone, in a course that a group shares by the group.
        """
        path.parent.parent.mkdir(parents=True, exist_ok=True)
        mode = for_owner(path.parent.parent, 0o700)
        path.parent.mkdir(mode=mode, exist_ok=True)
        if os.name == "posix":
            path.parent.chmod(mode if mode == 0o700 else GROUP)
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL
        temporary = path.with_name(f".seed.{secrets.token_hex(4)}.tmp")
        try:
            with os.fdopen(os.open(temporary, flags, for_owner(path.parent, 0o600)), "w", encoding="ascii") as stream:
                stream.write(secrets.token_hex(32) + "\n")
                stream.flush()
                os.fsync(stream.fileno())
            if not path.exists():
                temporary.rename(path)
        finally:
            temporary.unlink(missing_ok=True)
        return cls.read(path)

    @classmethod
    def read(cls, path: Path) -> Seed:
        """Read the seed.

        Raises
        ------
        SeedError
            If it is missing, damaged, or open to others.
        """
        try:
            met = path.lstat()
            if stat.S_ISREG(met.st_mode):
                _closed_to_others(path, met.st_mode, "600")
                _closed_to_others(path.parent, path.parent.stat().st_mode, "700")
                text = path.read_text("ascii").strip()
            else:
                text = ""
        except FileNotFoundError:
            raise SeedError(
                str(path),
                rule="A course keeps its secret seed in keys/seed.",
                remedy="Fetch it from your backup; forms and marks rest on it.",
            ) from None
        except OSError as error:
            raise SeedError(
                str(path), rule=f"The seed cannot be read ({error.strerror}).", remedy="Allow its owner to read it."
            ) from None
        except UnicodeDecodeError:
            text = ""
        if not re.fullmatch("[0-9a-f]{64}", text):
            raise SeedError(
                str(path),
                rule="A seed is a regular file with 64 hexadecimal digits.",
                remedy="Fetch it from your backup.",
            )
        return cls(bytes.fromhex(text))

    def digest(self, *labels: str | int) -> bytes:
        """Return 32 bytes that only this seed gives for these labels."""
        # JSON keeps ("ab", "c") and ("a", "bc") apart.
        message = json.dumps(["trainkit", 1, *labels], ensure_ascii=True).encode()
        return hmac.new(self.secret, message, hashlib.sha256).digest()

    def stream(self, *labels: str | int) -> random.Random:
        """Return a generator of its own for these labels."""
        # The generator itself guards nothing; its start does, and that is the keyed digest.
        return random.Random(self.digest("stream", *labels))  # noqa: S311 - seeded from an HMAC on purpose

    def code(self, *labels: str | int, length: int) -> str:
        """Return a code of capital letters and digits that are hard to confuse, for these labels."""
        number = int.from_bytes(self.digest("code", *labels))
        signs = []
        for _ in range(length):
            number, sign = divmod(number, len(ALPHABET))
            signs.append(ALPHABET[sign])
        return "".join(signs)


def _closed_to_others(path: Path, mode: int, wanted: str) -> None:
    course = path.parent if wanted == "700" else path.parent.parent
    others = 0o007 if shared_by_group(course) else 0o077
    if os.name == "posix" and stat.S_IMODE(mode) & others:
        raise SeedError(
            f"{stat.S_IMODE(mode):o}",
            place=str(path),
            rule="Keys are open to their owner alone, or to the group that shares the course.",
            remedy=f"Give the command: chmod {wanted} '{path}'. If others could read it, think of a new course.",
        )
