"""A zip from somebody else: judged whole before one byte is unpacked, and unpacked within its limits only."""

from __future__ import annotations

import io
import stat
import struct
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from fallow.records.package import FILE as PACKAGE_FILE
from fallow.records.problems import shown
from fallow.records.zip_names import is_kept, refuse_names


@dataclass(frozen=True, kw_only=True)
class Limits:
    """What a zip may hold; our choice: a hundred times the largest record we know, and far from what fills a disk."""

    files: int = 1000
    file_bytes: int = 200_000_000
    all_bytes: int = 400_000_000
    ratio: int = 100
    # below this a high ratio does no harm: an empty table packs well
    ratio_from_bytes: int = 2_000_000


@dataclass(frozen=True, kw_only=True)
class Unpacked:
    """The files of one experiment by name, its folder's name in the zip ("" when it has none), and what was left out."""

    files: Mapping[str, bytes]
    folder: str
    left_out: tuple[str, ...]


def unpack(source: Path | bytes, *, file: str, limits: Limits) -> Unpacked:
    """Return the files of the experiment in a zip, or refuse the zip as a whole in one sentence."""
    with _damage_told(file), zipfile.ZipFile(io.BytesIO(source) if isinstance(source, bytes) else source) as archive:
        entries = archive.infolist()
        _refuse_sizes(entries, file, limits)
        refuse_names([entry.orig_filename for entry in entries], file=file)
        for entry in entries:
            _refuse_kind(entry, file)
        names = [entry.orig_filename for entry in entries if not entry.is_dir()]
        root = _root(names, file)
        inside = {name: name[len(root) :] for name in names if name.startswith(root)}
        wanted = {name: short for name, short in inside.items() if is_kept(short)}
        files = {short: archive.read(name) for name, short in wanted.items()}
    left_out = tuple(sorted(name for name in names if name not in wanted))
    return Unpacked(files=files, folder=root.rstrip("/"), left_out=left_out)


@contextmanager
def _damage_told(file: str) -> Iterator[None]:
    try:
        yield
    except (
        zipfile.BadZipFile, zlib.error, struct.error, EOFError, OSError, NotImplementedError, RuntimeError, UnicodeError,
        OverflowError,
    ) as error:  # fmt: skip
        message = (
            f"{file} cannot be read as a zip ({error or type(error).__name__}); it may be cut off or damaged. Nothing was "
            "imported; ask for it again."
        )
        raise ValueError(message) from error


def _refuse_sizes(entries: list[zipfile.ZipInfo], file: str, limits: Limits) -> None:
    size, packed = sum(entry.file_size for entry in entries), sum(entry.compress_size for entry in entries)
    largest = max((entry.file_size for entry in entries), default=0)
    rule = ""
    if len(entries) > limits.files:
        rule = f"{len(entries)} files; at most {limits.files} are taken"
    elif largest > limits.file_bytes:
        rule = f"a file of {largest} bytes; at most {limits.file_bytes} are taken"
    elif size > limits.all_bytes:
        rule = f"{size} bytes in all; at most {limits.all_bytes} are taken"
    elif size > limits.ratio_from_bytes and size > limits.ratio * packed:
        rule = f"{size} bytes packed into {packed}; no record packs better than {limits.ratio} to 1"
    if rule:
        message = f"{file} holds {rule}. Nothing was imported; ask whoever sent it for a zip made by Fallow."
        raise ValueError(message)


def _refuse_kind(entry: zipfile.ZipInfo, file: str) -> None:
    kind = stat.S_IFMT(entry.external_attr >> 16)
    rule = ""
    if kind not in (0, stat.S_IFREG, stat.S_IFDIR):
        rule = "it is a link or a device, not a file"
    elif entry.flag_bits & 0x1:
        rule = "it is locked with a password"
    elif entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        rule = "it is packed in a way not every system can read"
    if rule:
        message = (
            f"{file} holds {shown(entry.orig_filename)}; {rule}. Nothing was imported; ask whoever sent it for a zip made by "
            "Fallow."
        )
        raise ValueError(message)


def _root(names: list[str], file: str) -> str:
    """Return the folder of the zip where the one experiment stands, with its slash, or ""."""
    found = [name for name in names if name.rsplit("/", 1)[-1] == PACKAGE_FILE and name.count("/") <= 1]
    if len(found) != 1:
        holds = "no datapackage.json" if not found else f"{len(found)} experiments"
        message = (
            f"{file} holds {holds}; a shared zip holds one experiment. Nothing was imported; ask for the zip of one "
            "experiment."
        )
        raise ValueError(message)
    return found[0][: -len(PACKAGE_FILE)]
