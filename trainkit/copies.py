"""A copy of a workbook out of a course's zip, in a folder of its own for each person, however many share a laptop.

The zip holds the notebook, the forms and whose they are, and at most a pack to practise on. Nothing else is unpacked,
nothing that is there is written over, and a folder that belongs to somebody else is left alone.
"""

from __future__ import annotations

import json
import re
import unicodedata
import zipfile
from pathlib import Path

from trainkit.errors import FormError
from trainkit.forms import FORMS_FILE, IDENTITY_FILE, Forms, Identity
from trainkit.packs import PACK_FILE

__all__ = ["own_copy"]

# Far above what a course makes; a zip that says more of itself is none of ours.
_LARGEST = 40_000_000
_REMEDY = "Take the zip as your instructor gave it to you, or ask for another."


def own_copy(archive: Path, into: Path | None = None) -> Path:
    """Unpack a course's zip into a folder of its own and return the notebook in it.

    A copy that is there already is used as it is, with its answers. A later attempt gets a folder beside it.

    Parameters
    ----------
    archive : Path
        The zip that a course made for one person.
    into : Path, optional
        In which folder it is put; that of the zip by default.

    Returns
    -------
    Path
        The notebook in ``<into>/<course>-<apprentice>/<module>/``.

    Raises
    ------
    FormError
        If it is no zip of a course, or the folder belongs to somebody else.
    """
    files = _read(archive)
    home = next(iter(files)).split("/")[0]
    identity = Identity.model_validate_json(files[f"{home}/{IDENTITY_FILE}"])
    said = json.loads(files[f"{home}/{FORMS_FILE}"])
    code = said["forms"][0]["code"] if said.get("forms") else ""
    base = (archive.parent if into is None else into) / _safe(f"{identity.course}-{identity.apprentice}")
    for folder in (base / home, base / f"{home}-{_safe(code)}"):
        if not folder.exists():
            break
        if _is_theirs(folder, identity, code):
            return (folder / f"{home}.ipynb").resolve()
    else:
        raise FormError(
            str(folder), rule="Another copy stands in this folder.", remedy="Name another folder with --into."
        )
    folder.mkdir(parents=True)
    # Whose it is comes last: a copy that was cut off half-way belongs to nobody, and is told apart by that.
    for name in sorted(files, key=lambda name: name.endswith(IDENTITY_FILE)):
        (folder / name.split("/")[1]).write_bytes(files[name])
    return (folder / f"{home}.ipynb").resolve()


def _is_theirs(folder: Path, identity: Identity, code: str) -> bool:
    """Tell whether a folder holds the same form of the same person; refuse one of somebody else."""
    try:
        there, forms = Identity.read(folder), Forms.read(folder)
    except FormError:
        there, forms = None, None
    if there is None or (there.course, there.apprentice) != (identity.course, identity.apprentice):
        raise FormError(
            str(folder),
            rule="This folder does not belong to whoever the zip is for.",
            remedy="Leave it as it is, and name another folder with --into.",
        )
    return forms is not None and any(form.code == code for form in forms.forms)


def _read(archive: Path) -> dict[str, bytes]:
    """Return the files of the zip, those that a course puts there and no others."""
    try:
        with zipfile.ZipFile(archive) as opened:
            members = [member for member in opened.infolist() if not member.is_dir()]
            homes = {member.filename.partition("/")[0] for member in members}
            home = homes.pop() if len(homes) == 1 else ""
            wanted = {f"{home}/{name}" for name in (f"{home}.ipynb", FORMS_FILE, IDENTITY_FILE, PACK_FILE)}
            names = [member.filename for member in members]
            plain = re.fullmatch(r"[a-z][a-z0-9-]{0,39}", home) is not None
            if not plain or not set(names) <= wanted or len(set(names)) != len(names):
                raise _refused(archive, "It holds other files than a course puts into it.")
            if not {f"{home}/{home}.ipynb", f"{home}/{FORMS_FILE}", f"{home}/{IDENTITY_FILE}"} <= set(names):
                raise _refused(archive, "The notebook, the forms or whose they are is missing.")
            if sum(member.file_size for member in members) > _LARGEST:
                raise _refused(archive, "It is far larger than a course makes one.")
            files = {}
            for member in members:
                with opened.open(member) as stream:
                    content = stream.read(_LARGEST + 1)
                if len(content) > _LARGEST:
                    raise _refused(archive, "It is far larger than a course makes one.")
                files[member.filename] = content
            return files
    except (OSError, zipfile.BadZipFile, RuntimeError, NotImplementedError, EOFError) as error:
        raise _refused(archive, f"It cannot be read ({error}).") from None


def _refused(archive: Path, why: str) -> FormError:
    return FormError(str(archive), rule=f"This is no zip of a workbook. {why}", remedy=_REMEDY)


def _safe(name: str) -> str:
    """Return a name that every system takes for a folder.

    Examples
    --------
    >>> _safe("saltmere-o'brien"), _safe("con:1")
    ("saltmere-o'brien", 'con_1')
    """
    plain = unicodedata.normalize("NFC", name)
    return re.sub(r'[\x00-\x1f<>:"/\\|?*]', "_", plain).rstrip(". ") or "_"
