"""Courses for everything that is tested on the course side, in a folder with a space."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import Connection

from trainkit_grading.course.folder import Course

from .ledgers import open_database
from .makers import COMMAND, Bench, Run, found, give_out, move_to
from .postgres import Postgres, running


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    """A course with three apprentices and one module of its own, not built yet."""
    return found(tmp_path / "My course – Übung")


@pytest.fixture(scope="session")
def _given_out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = found(tmp_path_factory.mktemp("given out") / "course")
    give_out(made.course)
    return made.course.folder


@pytest.fixture
def assigned(_given_out: Path, tmp_path: Path) -> Bench:
    """The same course, built and given out. It is copied, which a course folder allows, as nbgrader is slow."""
    return Bench(Course.load(shutil.copytree(_given_out, tmp_path / "My course – Übung")))


@pytest.fixture
def parts(assigned: Bench, tmp_path: Path) -> dict[str, bytes]:
    """What an honest hand-in of Amir's holds."""
    folder = assigned.unpack("amir", tmp_path / "amir")
    assigned.answer(folder)
    return {name: (folder / name).read_bytes() for name in ("answers.jsonl", "identity.json")}


@pytest.fixture(scope="session")
def postgres() -> Iterator[Postgres]:
    """A private PostgreSQL server; programs that are started find its password where PostgreSQL looks for it."""
    with running() as server, pytest.MonkeyPatch.context() as patch:
        patch.setenv("PGPASSFILE", str(server.password_file))
        for name in ("PGPASSWORD", "PGSERVICE"):
            patch.delenv(name, raising=False)
        yield server


@pytest.fixture(scope="session")
def _given_out_there(postgres: Postgres, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    made = found(tmp_path_factory.mktemp("given out there") / "course")
    database = postgres.new_database()
    course = move_to(made.course, postgres.address(database))
    give_out(course)
    assert not course.gradebook.exists()
    return course.folder, database


@pytest.fixture
def assigned_there(_given_out_there: tuple[Path, str], postgres: Postgres, tmp_path: Path) -> Bench:
    """The course, built and given out, whose marks stand in a PostgreSQL database of its own."""
    folder, database = _given_out_there
    course = Course.load(shutil.copytree(folder, tmp_path / "My course – Übung there"))
    return Bench(move_to(course, postgres.address(postgres.new_database(like=database))))


@pytest.fixture
def given_out(where: str, request: pytest.FixtureRequest) -> Bench:
    """The course, built and given out, on the database that a test marked with ``ON_BOTH`` is about."""
    made: Bench = request.getfixturevalue("assigned" if where == "sqlite" else "assigned_there")
    return made


@pytest.fixture
def address(where: str, tmp_path: Path, request: pytest.FixtureRequest) -> str:
    """An empty database, of the kind that a test marked with ``ON_BOTH`` is about."""
    if where == "sqlite":
        return f"sqlite:///{tmp_path / 'marks.db'}"
    server: Postgres = request.getfixturevalue("postgres")
    return server.address(server.new_database())


@pytest.fixture
def empty(address: str) -> Iterator[Connection]:
    """An open, empty database."""
    with open_database(address) as connection:
        yield connection


@pytest.fixture(scope="session")
def command() -> Run:
    """Run ``trainkit-course`` as a person does; it ends with the status that is expected."""

    def run(*words: str | Path, cwd: Path | None = None, status: int = 0) -> subprocess.CompletedProcess[str]:
        environment = {**os.environ, "COLUMNS": "200", "NO_COLOR": "1"}
        start = [*COMMAND, *map(str, words)]
        done = subprocess.run(start, cwd=cwd, capture_output=True, text=True, check=False, env=environment)
        assert done.returncode == status, done.stdout + done.stderr
        return done

    return run
