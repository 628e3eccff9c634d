"""A private PostgreSQL server for the tests: in a temporary folder, on a unix socket, with a password, thrown away."""

from __future__ import annotations

import os
import secrets
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from typing import Any

import psycopg

OWNER = "trainkit"


def programs() -> Path | None:
    """Return the folder of PostgreSQL's own programs, which distributions keep off the search path."""
    on_path = shutil.which("initdb")
    if on_path:
        return Path(on_path).resolve().parent
    found = sorted(
        Path("/usr/lib/postgresql").glob("*/bin/initdb"),
        key=lambda path: [int(part) for part in path.parts[-3].split(".")],
    )
    return found[-1].parent if found else None


@dataclass(frozen=True)
class Postgres:
    """A running server."""

    socket: Path
    password: str
    password_file: Path
    _serial: Iterator[int]

    def address(self, database: str, **parts: str) -> str:
        """Return the address of a database, for ``course.toml``."""
        user = parts.get("user", OWNER)
        return f"{parts.get('driver', 'postgresql+psycopg')}://{user}@/{database}?host={self.socket}"

    def sql(self, statement: str, database: str = "postgres") -> list[tuple[object, ...]]:
        """Run one statement as the owner of everything."""
        with psycopg.connect(
            host=str(self.socket), user=OWNER, password=self.password, dbname=database, autocommit=True
        ) as connection:
            cursor = connection.execute(statement)
            return cursor.fetchall() if cursor.description else []

    def new_database(self, like: str = "template0", encoding: str = "UTF8") -> str:
        """Make a database, empty or a copy of another, and return its name."""
        name = f"course_{next(self._serial)}"
        locale = "" if encoding == "UTF8" else "LOCALE 'C'"
        self.sql(f"CREATE DATABASE {name} TEMPLATE {like} ENCODING '{encoding}' {locale}")
        return name


@contextmanager
def running() -> Iterator[Postgres]:
    """Start a server and stop it afterwards; it refuses to run as root, so that root starts it as somebody else."""
    home = programs()
    assert home is not None, "PostgreSQL is not installed; README.md says what the tests need"
    # pytest's own temporary folders are closed to others, and the path of a socket has to be short.
    folder = Path(tempfile.mkdtemp(prefix="pg-"))
    password = secrets.token_hex(8)
    try:
        folder.chmod(0o755)
        data, secret, passwords = folder / "data", folder / "password", folder / "pgpass"
        secret.write_text(password)
        passwords.touch(mode=0o600)
        passwords.write_text(f"*:*:*:{OWNER}:{password}\n")
        run = _as_somebody(folder, secret)
        how = ("-U", OWNER, "-A", "scram-sha-256", f"--pwfile={secret}", "-E", "UTF8", "--locale=C", "--no-sync")
        run([home / "initdb", "-D", data, *how])
        # What is thrown away need not survive a power cut.
        options = f"-c listen_addresses='' -k {folder} -c fsync=off -c synchronous_commit=off -c full_page_writes=off"
        run([home / "pg_ctl", "-D", data, "-w", "-l", folder / "log", "-o", options, "start"])
        try:
            yield Postgres(folder, password, passwords, count(1))
        finally:
            run([home / "pg_ctl", "-D", data, "-m", "immediate", "stop"])
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _as_somebody(folder: Path, secret: Path) -> Callable[[Sequence[str | Path]], None]:
    """Return what runs a program, as an account without rights where the tests run as root."""
    somebody: dict[str, Any] = {}
    if os.geteuid() == 0:
        import pwd  # not on Windows, where this file is imported and nothing of it is called

        names = {account.pw_name: account for account in pwd.getpwall()}
        account = names.get("postgres") or names["nobody"]
        for path in (folder, secret):
            os.chown(path, account.pw_uid, account.pw_gid)
        somebody = {"user": account.pw_uid, "group": account.pw_gid, "extra_groups": []}

    def run(words: Sequence[str | Path]) -> None:
        done = subprocess.run(words, check=False, capture_output=True, text=True, timeout=120, cwd=folder, **somebody)
        assert done.returncode == 0, f"{words[0]}: {done.stdout}{done.stderr}"

    return run
