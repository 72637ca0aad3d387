"""One experiment as one zip, to hand to another baker, and such a zip taken in without trusting it.

export_zip(experiment, "harbour-rota.zip")
came = import_zip("harbour-rota.zip", "experiments")
"""

from __future__ import annotations

import io
import json
import os
import platform
import shutil
import tempfile
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

import fallow
from fallow.records.experiment import Experiment
from fallow.records.journal import WORK_FOLDER
from fallow.records.lock import locked
from fallow.records.migrate import migrate
from fallow.records.package import FILE as PACKAGE_FILE
from fallow.records.package import read_package, slug
from fallow.records.problems import cut, refuse, shown
from fallow.records.schema import SCHEMA_VERSION
from fallow.records.spreadsheet import guarded_copies
from fallow.records.zip_names import VERSIONS_FILE, is_kept, name_fault
from fallow.records.zip_reading import Limits, Unpacked, unpack

_DAY_ONE = (1980, 1, 1, 0, 0, 0)  # the first day a zip can name: the same files give the same bytes on any day
_WITH = ("numpy", "pandas", "scipy", "statsmodels", "altair")


@dataclass(frozen=True, kw_only=True)
class Imported:
    """An experiment that came in: where it stands, what of the zip was left out, and whether it brings code to run."""

    folder: Path
    title: str
    licence: str
    invented: bool
    notebooks: tuple[str, ...]
    left_out: tuple[str, ...]
    migrated: bool

    @property
    def remarks(self) -> tuple[str, ...]:
        """What a reader should know of it before using it."""
        said = [f"Its licence is {self.licence or 'not said'}."]
        said += ["Its data are invented, as it says itself."] if self.invented else []
        said += ["It was made by an older Fallow and was brought forward."] if self.migrated else []
        if self.notebooks:
            said.append(
                f"It brings {', '.join(self.notebooks)}: somebody else's code. Read it before you run it; python3 tests runs it too."
            )
        if self.left_out:
            said.append(f"Left out, being no part of a record: {_some(self.left_out)}.")
        return tuple(said)

    def __str__(self) -> str:
        return f"{cut(self.title)} is in, as {self.folder.name}; it was checked and is sound."


def _some(names: tuple[str, ...]) -> str:
    more = f" and {len(names) - 3} more" if len(names) > 3 else ""
    return ", ".join(map(shown, names[:3])) + more


def zip_bytes(experiment: Experiment) -> bytes:
    """Return one experiment as a zip: tables, datapackage.json, README, notebooks, plans, changes, and the versions used.

    The work folder, drafts and whatever else lies there stay at home. The same record gives the same bytes.

    Raises
    ------
    ValueError
        With the record's first problem: what is not sound is mended before it is shared.
    """
    refuse(experiment.check())
    with locked(experiment.folder):
        files = {
            name: path.read_bytes()
            for path in sorted(experiment.folder.rglob("*"))
            if is_kept(name := path.relative_to(experiment.folder).as_posix())
            and path.is_file()
            and not path.is_symlink()
        }
    files[VERSIONS_FILE] = _versions()
    return _packed(files, top=_folder_name(experiment))


def spreadsheet_zip_bytes(experiment: Experiment) -> bytes:
    """Return guarded copies of every table for a spreadsheet (see ``fallow.records.spreadsheet``) as one zip."""
    return _packed(guarded_copies(experiment), top=f"{_folder_name(experiment)}-for-a-spreadsheet")


def _packed(files: Mapping[str, bytes], *, top: str) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for name in sorted(files):
            entry = zipfile.ZipInfo(f"{top}/{name}", date_time=_DAY_ONE)
            entry.compress_type, entry.create_system, entry.external_attr = zipfile.ZIP_DEFLATED, 3, 0o100644 << 16
            archive.writestr(entry, files[name])
    return made.getvalue()


def _folder_name(experiment: Experiment) -> str:
    name = experiment.folder.resolve().name
    return slug(experiment.title) if name_fault(name) else name


def _versions() -> bytes:
    told = {"fallow": fallow.__version__, "schema": SCHEMA_VERSION, "python": platform.python_version()}
    return (json.dumps(told | {name: version(name) for name in _WITH}, indent=2) + "\n").encode("ascii")


def export_zip(experiment: Experiment, to: str | Path) -> Path:
    """Write one experiment as one zip (see ``zip_bytes``); ``to`` is the file, or a folder to put it in.

    A file that stands there is not written over.
    """
    path = Path(to)
    if path.is_dir():
        path /= f"{_folder_name(experiment)}.zip"
    if path.exists():
        message = f"{path.name} stands there already; it is not written over. Choose another name, or move it away."
        raise ValueError(message)
    data = zip_bytes(experiment)
    try:
        with path.open("xb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
    except OSError as error:
        message = (
            f"{path} cannot be written ({error.strerror}); nothing was exported. Choose a folder you may write to."
        )
        raise ValueError(message) from error
    return path


def import_zip(file: str | Path | bytes, into: str | Path, *, name: str = "", limits: Limits | None = None) -> Imported:
    """Take an experiment's zip into the folder of experiments, as a folder of its own that was not there before.

    The zip is judged whole first; then it is unpacked into a work folder, brought forward when an older Fallow made it,
    checked as any record is, and only then moved to its name in one step. What is refused leaves nothing behind.

    Parameters
    ----------
    file
        The zip's path, or its bytes.
    into
        The folder that holds the experiments.
    name
        The new folder's name; left out, the one it has in the zip.
    limits
        What it may hold, when the usual limits will not do.

    Raises
    ------
    ValueError
        With the one reason it is refused for.
    """
    source: Path | bytes = file if isinstance(file, bytes) else Path(file)
    told = source.name if isinstance(source, Path) else "the zip"
    home = Path(into)
    if not home.is_dir():
        message = f"{home} is no folder; an experiment is imported into one. Check its name."
        raise ValueError(message)
    unpacked = unpack(source, file=told, limits=limits or Limits())
    package, problems = read_package(unpacked.files[PACKAGE_FILE])
    refuse(problems if not 0 < package.schema_version < SCHEMA_VERSION else ())
    target = _target(home, name or unpacked.folder or slug(package.name or package.title))
    with locked(home):
        _refuse_taken(home, target.name)
        folder = _made(home, unpacked, target, migrated := 0 < package.schema_version < SCHEMA_VERSION)
    return Imported(
        folder=folder,
        title=package.title,
        licence=package.licence,
        invented=package.invented,
        notebooks=tuple(sorted(one for one in unpacked.files if one.endswith(".ipynb"))),
        left_out=unpacked.left_out,
        migrated=migrated,
    )


def _made(home: Path, unpacked: Unpacked, target: Path, older: bool) -> Path:
    """Unpack beside, judge, and move to its name; call it under the lock of ``home``."""
    # an import that was killed leaves its work here; nobody else is at work while we hold the lock
    for left in (home / WORK_FOLDER).glob("import-*"):
        shutil.rmtree(left)
    work = Path(tempfile.mkdtemp(prefix="import-", dir=home / WORK_FOLDER))
    try:
        made = work / target.name
        made.mkdir()
        for short, data in unpacked.files.items():
            (made / short).parent.mkdir(exist_ok=True)
            with (made / short).open("xb") as stream:
                stream.write(data)
        if older:
            migrate(made)
        refuse(Experiment.open(made).check())
        made.rename(target)
    except OSError as error:
        message = f"{target.name} cannot be written ({error.strerror}); nothing was imported. Make room, and try again."
        raise ValueError(message) from error
    finally:
        shutil.rmtree(work)
    return target


def _target(home: Path, name: str) -> Path:
    fault = name_fault(name) or ("it must be one name, without a slash" if "/" in name else "")
    fault = fault or ("a hidden folder would be lost from sight" if name.startswith(".") else "")
    if fault:
        message = f"the folder's name is {shown(name)}; {fault}. Choose a plain name, as in harbour-rota."
        raise ValueError(message)
    return home / name


def _refuse_taken(home: Path, name: str) -> None:
    taken = [one.name for one in home.iterdir() if one.name.casefold() == name.casefold()]
    if taken:
        message = (
            f"A folder {taken[0]} stands there already; an import never writes over it. Give the import another name."
        )
        raise ValueError(message)
