"""One experiment as one zip: whole and the same on any day; and zips that must not be trusted, written byte by byte."""

from __future__ import annotations

import io
import json
import ntpath
import os
import posixpath
import random
import shutil
import stat
import subprocess
import sys
import zipfile
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.records.test_package import faults

from fallow.records import share
from fallow.records.experiment import Experiment
from fallow.records.package import FILE as PACKAGE_FILE
from fallow.records.share import export_zip, import_zip, spreadsheet_zip_bytes, zip_bytes
from fallow.records.spreadsheet import guarded_copies
from fallow.records.zip_names import name_fault
from fallow.records.zip_reading import Limits

ROOT = Path(__file__).resolve().parents[2]
Bytes = Callable[[Path], dict[str, bytes]]


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """The folder that imports go into, with a neighbour no import may touch."""
    folder = tmp_path / "experiments"
    folder.mkdir()
    (tmp_path / "neighbour.txt").write_text("untouched")
    return folder


def tables_of(folder: Path) -> dict[str, bytes]:
    return {
        path.name: path.read_bytes() for path in folder.iterdir() if path.is_file() and path.name != "versions.json"
    }


def test_an_experiment_comes_back_byte_for_byte_and_sound(small: Experiment, home: Path) -> None:
    (small.folder / "analysis.ipynb").write_text("{}", encoding="utf-8")
    (small.folder / "plans").mkdir()
    (small.folder / "plans" / "2026-03-29-007-1.json").write_text("{}", encoding="utf-8")
    came = import_zip(export_zip(small, home), home, name="small-again")
    assert tables_of(came.folder) == tables_of(small.folder)
    assert (came.folder / "plans" / "2026-03-29-007-1.json").read_text(encoding="utf-8") == "{}"
    assert (came.title, came.licence, came.notebooks, came.left_out) == (
        "A small one",
        "CC0-1.0",
        ("analysis.ipynb",),
        (),
    )
    assert "somebody else's code. Read it before you run it" in " ".join(came.remarks)
    assert str(came) == "A small one is in, as small-again; it was checked and is sound."
    assert Experiment.open(came.folder).check() == []
    assert faults(came.folder) == []


def test_the_rota_is_exported_and_imported(home: Path) -> None:
    came = import_zip(zip_bytes(Experiment.open(ROOT / "experiments" / "harbour-rota")), home)
    assert came.folder.name == "harbour-rota"
    assert came.invented
    assert "Its data are invented, as it says itself." in came.remarks
    assert faults(came.folder) == []


def test_work_folder_drafts_links_and_strangers_stay_at_home(small: Experiment, tmp_path: Path) -> None:
    (tmp_path / "secret.txt").write_text("secret")
    for name in (
        ".drafts/page.json",
        ".ipynb_checkpoints/analysis.ipynb",
        "photo.jpg",
        "feeds.csv.bak",
        "plans/.x.json",
    ):
        (small.folder / name).parent.mkdir(exist_ok=True)
        (small.folder / name).write_text("private")
    (small.folder / "notes.ipynb").symlink_to(tmp_path / "secret.txt")
    (small.folder / "LICENSE").symlink_to(tmp_path / "secret.txt")
    with zipfile.ZipFile(io.BytesIO(zip_bytes(small))) as archive:
        assert sorted(archive.namelist()) == sorted(
            f"small/{name}"
            for name in (
                "README.md", "changes.jsonl", "cultures.csv", "datapackage.json", "feed_flours.csv", "feeds.csv", "jars.csv",
                "readings.csv", "temperatures.csv", "versions.json",
            )
        )  # fmt: skip
        versions = json.loads(archive.read("small/versions.json"))
    assert versions["schema"] == 1
    assert {"fallow", "python", "numpy", "pandas"} <= set(versions)


PRINTED = """
import sys
from fallow.records.experiment import Experiment
from fallow.records.share import zip_bytes
sys.stdout.buffer.write(zip_bytes(Experiment.open(sys.argv[1])))
"""


def test_the_same_record_gives_the_same_bytes_on_any_day_in_any_process(small: Experiment, tmp_path: Path) -> None:
    first = zip_bytes(small)
    for path in small.folder.iterdir():
        os.utime(path, (0, 1e9))
    env = os.environ | {"PYTHONPATH": str(ROOT / "lib"), "TZ": "Asia/Kolkata", "PYTHONHASHSEED": "7"}
    copy = shutil.copytree(small.folder, tmp_path / "elsewhere" / "small")
    again = subprocess.run([sys.executable, "-c", PRINTED, str(copy)], capture_output=True, env=env, check=True)
    assert again.stdout == first


def test_copies_for_a_spreadsheet_come_as_one_zip_too(small: Experiment) -> None:
    with zipfile.ZipFile(io.BytesIO(spreadsheet_zip_bytes(small))) as archive:
        found = {name: archive.read(name) for name in archive.namelist()}
    assert found == {f"small-for-a-spreadsheet/{name}": data for name, data in guarded_copies(small).items()}


def test_an_unsound_record_is_mended_before_it_is_shared(small: Experiment, home: Path) -> None:
    path = small.folder / "feeds.csv"
    path.write_text(path.read_text(encoding="utf-8").replace(",20,100,", ",-20,100,", 1), encoding="utf-8")
    with pytest.raises(ValueError, match=r"^feeds.csv, row 2: seed_g is '-20'"):
        export_zip(small, home)
    assert list(home.iterdir()) == []


def test_an_export_writes_over_nothing_and_tells_a_folder_it_may_not_write(small: Experiment, home: Path) -> None:
    made = export_zip(small, home)
    with pytest.raises(ValueError, match=r"^small.zip stands there already"):
        export_zip(small, home)
    assert zipfile.is_zipfile(made)
    with pytest.raises(ValueError, match=r"cannot be written \(No such file"):
        export_zip(small, home / "nowhere" / "small.zip")


@pytest.fixture
def sound(small: Experiment) -> dict[str, bytes]:
    """The files of a sound experiment, as they stand in a zip."""
    with zipfile.ZipFile(io.BytesIO(zip_bytes(small))) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def packed(files: Sequence[tuple[str | zipfile.ZipInfo, bytes]], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as archive:
        for name, data in files:
            entry = name if isinstance(name, zipfile.ZipInfo) else zipfile.ZipInfo("x")
            if isinstance(name, str):
                # ZipInfo mends some names itself; a hostile zip does not
                entry.filename = entry.orig_filename = name
                entry.external_attr = 0o100644 << 16
            entry.compress_type = method
            archive.writestr(entry, data)
    return out.getvalue()


def refused(data: bytes | Path, home: Path, sentence: str, **others: object) -> None:
    """See that a zip is refused, that the reason is one sentence-pair, and that nothing at all was written."""
    before = everything(home.parent)
    with pytest.raises(ValueError, match=sentence) as told:
        import_zip(data, home, **others)  # type: ignore[arg-type]
    assert "\n" not in str(told.value)
    assert len(str(told.value)) < 400
    after = everything(home.parent)
    assert {name for name in after if ".fallow" not in name} == {name for name in before if ".fallow" not in name}
    assert all(after[name] == data for name, data in before.items())
    assert not list(home.glob(".fallow/import-*"))


def everything(folder: Path) -> dict[str, bytes | None]:
    return {str(path): path.read_bytes() if path.is_file() else None for path in folder.rglob("*")}


HOSTILE = {
    "../feeds.csv": "leads out of the folder",
    "small/../../feeds.csv": "leads out of the folder",
    "small/plans/../../../x.json": "leads out of the folder",
    "..": "leads out of the folder",
    "/etc/feeds.csv": "path from the root",
    "//host/share/feeds.csv": "path from the root",
    "C:/feeds.csv": "or a drive",
    "C:feeds.csv": "or a drive",
    "small/feeds.csv:stream": "or a drive",
    "..\\feeds.csv": "written with backslashes",
    "small\\feeds.csv": "written with backslashes",
    "\\\\host\\feeds.csv": "written with backslashes",
    "small/./feeds.csv": "empty, a dot",
    "small//feeds.csv": "empty, a dot",
    "small/feeds.csv.": "ends in a dot or a space",
    "small/feeds.csv ": "ends in a dot or a space",
    "small /feeds.csv": "ends in a dot or a space",
    "small/CON": "device on Windows",
    "small/nul.csv": "device on Windows",
    "small/aux.tar.gz": "device on Windows",
    "small/LPT1.json": "device on Windows",
    "small/com¹.csv": "device on Windows",
    "prn/feeds.csv": "device on Windows",
    "small/fe\x07eds.csv": "cannot be seen",
    "small/\u202evsc.sdeef": "cannot be seen",
    "small/feeds.csv\x00.txt": "cannot be seen",
    "small/a\nb.csv": "cannot be seen",
    "small/fe?ds.csv": "no file name may have",
    "small/FEEDS.csv": "where capitals do not count",
    "SMALL/feeds.csv": "where capitals do not count",
    "small/ﬀeeds.csv".replace("ﬀ", "\uff46"): "where capitals do not count",
    "small/feeds.csv/x.json": "a file of the zip stands where its folder would be",
    "small": "a file of the zip stands where its folder would be",
    "small/" + "x" * 300 + ".csv": "longer than any name",
}


@pytest.mark.parametrize("name", HOSTILE)
def test_no_name_in_a_zip_leads_anywhere_else(name: str, sound: dict[str, bytes], home: Path) -> None:
    refused(packed([*sound.items(), (name, b"x")]), home, HOSTILE[name])


@pytest.mark.parametrize("kind", [stat.S_IFLNK, stat.S_IFCHR, stat.S_IFIFO, stat.S_IFSOCK, stat.S_IFBLK])
def test_links_and_devices_are_refused(kind: int, sound: dict[str, bytes], home: Path) -> None:
    link = zipfile.ZipInfo("small/analysis.ipynb")
    link.create_system, link.external_attr = 3, (kind | 0o777) << 16
    refused(packed([*sound.items(), (link, b"../../neighbour.txt")]), home, "a link or a device")


def test_a_name_twice_is_refused(sound: dict[str, bytes], home: Path) -> None:
    with pytest.warns(UserWarning, match="Duplicate name"):
        data = packed([*sound.items(), ("small/feeds.csv", b"jar\n")])
    refused(data, home, "where capitals do not count")


@pytest.mark.parametrize(
    ("limits", "sentence"),
    [
        (Limits(files=9), "holds 10 files; at most 9"),
        (Limits(file_bytes=500), "a file of [0-9]+ bytes; at most 500"),
        (Limits(all_bytes=2000), "bytes in all; at most 2000"),
    ],
)
def test_more_than_the_limits_is_refused(limits: Limits, sentence: str, sound: dict[str, bytes], home: Path) -> None:
    refused(packed([*sound.items()]), home, sentence, limits=limits)


def test_a_bomb_is_refused_before_it_is_unpacked(sound: dict[str, bytes], home: Path) -> None:
    refused(
        packed([*sound.items(), ("small/notes.ipynb", bytes(50_000_000))]), home, "no record packs better than 100 to 1"
    )
    honest = packed([*sound.items(), ("small/notes.ipynb", bytes(50_000_000))])
    lying = bytearray(honest)
    at = lying.rindex(b"small/notes.ipynb") - 46
    assert lying[at : at + 4] == b"PK\x01\x02"
    lying[at + 24 : at + 28] = (1000).to_bytes(4, "little")
    refused(bytes(lying), home, "it may be cut off or damaged")


def test_a_dense_record_stays_within_the_limits(tmp_path: Path, home: Path) -> None:
    record = Experiment.create(tmp_path / "dense", title="Dense", question="Does it pack too well?")
    hours = [
        f"2026-{1 + at // 672:02d}-{1 + at // 24 % 28:02d}T{at % 24:02d}:{minute:02d}:00+00:00"
        for at in range(1000)
        for minute in range(0, 60, 5)
    ]
    record.add_temperatures([{"place": "a fridge of unusual constancy", "at": at, "temp_c": 4} for at in hours])
    came = import_zip(zip_bytes(record), home)
    assert len(Experiment.open(came.folder).temperatures) == 12_000


@pytest.mark.parametrize("cut", [0, 1, 10, 100, 0.3, 0.6, 0.95, -1])
def test_what_is_no_whole_zip_is_refused(cut: float, sound: dict[str, bytes], home: Path) -> None:
    data = packed([*sound.items()])
    refused(data[: int(cut * len(data)) if 0 < cut < 1 else int(cut)], home, "it may be cut off or damaged")


def test_a_locked_and_a_strangely_packed_zip_are_refused(sound: dict[str, bytes], home: Path) -> None:
    refused(packed([*sound.items()], zipfile.ZIP_BZIP2), home, "packed in a way not every system can read")
    locked = bytearray(packed([*sound.items()]))
    at = locked.index(b"PK\x01\x02")
    locked[at + 8] |= 1
    refused(bytes(locked), home, "locked with a password")


def test_a_zip_of_something_else_and_one_of_two_experiments_are_refused(sound: dict[str, bytes], home: Path) -> None:
    refused(packed([("readme.txt", b"hello")]), home, "holds no datapackage.json; a shared zip holds one experiment")
    twice = [(name.replace("small/", f"{folder}/"), data) for folder in ("a", "b") for name, data in sound.items()]
    refused(packed(twice), home, "holds 2 experiments")
    refused(home / "none.zip", home, "cannot be read as a zip")


@pytest.mark.parametrize(
    ("file", "data", "sentence"),
    [
        ("small/feeds.csv", b"jar,feed\nx,1\n", "feeds.csv, row 1: kind is missing"),
        ("small/feeds.csv", b"\xff\xfe\x00", "feeds.csv: it "),
        ("small/datapackage.json", b"{", "datapackage.json: it is not a JSON object"),
        ("small/datapackage.json", b'{"fallow": {"schema_version": 99}}', "reads records up to version 1"),
        ("small/datapackage.json", b"{}", "keeps records of version 1"),
        ("small/changes.jsonl", b"not a change\n", "changes.jsonl, row 1"),
    ],
)
def test_an_unsound_record_is_not_taken_in(
    file: str, data: bytes, sentence: str, sound: dict[str, bytes], home: Path
) -> None:
    refused(packed([*(sound | {file: data}).items()]), home, sentence)


def test_nothing_that_stands_there_is_written_over(small: Experiment, home: Path, bytes_of: Bytes) -> None:
    data = zip_bytes(small)
    came = import_zip(data, home)
    before = bytes_of(came.folder)
    for name in ("", "small", "SMALL", "Small"):
        refused(data, home, "^A folder small stands there already; an import never writes over it", name=name)
    assert bytes_of(came.folder) == before
    assert import_zip(data, home, name="small-2").folder == home / "small-2"


@pytest.mark.parametrize("name", ["../out", "/out", "a/b", "C:out", "con", ".hidden", "..", "x.", "x" * 300, "a\\b"])
def test_no_name_somebody_types_leads_anywhere_else(name: str, small: Experiment, home: Path) -> None:
    refused(zip_bytes(small), home, r"^the folder's name is ", name=name)


def test_a_folder_made_by_another_program_is_read_and_what_is_no_record_left_out(
    sound: dict[str, bytes], home: Path
) -> None:
    bare = [(name.removeprefix("small/"), data) for name, data in sound.items()]
    came = import_zip(
        packed([*bare, ("__MACOSX/._feeds.csv", b"x"), (".fallow/journal", b"[]"), ("run.py", b"import os")]), home
    )
    assert came.folder.name == "a-small-one"
    assert came.left_out == (".fallow/journal", "__MACOSX/._feeds.csv", "run.py")
    assert "Left out, being no part of a record: '.fallow/journal'" in " ".join(came.remarks)
    assert not (came.folder / "run.py").exists()
    assert not (came.folder / ".fallow" / "journal").exists()


def test_an_import_that_fails_or_was_killed_leaves_nothing(
    small: Experiment, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = zip_bytes(small)
    killed = home / ".fallow" / "import-killed" / "small"
    killed.mkdir(parents=True)
    (killed / "feeds.csv").write_text("half")

    class Full:
        @staticmethod
        def open(folder: Path) -> Experiment:
            raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(share, "Experiment", Full)
        with pytest.raises(
            ValueError, match=r"^small cannot be written \(No space left on device\); nothing was imported"
        ):
            import_zip(data, home)
    assert [one.name for one in home.iterdir()] == [".fallow"]
    assert sorted(one.name for one in (home / ".fallow").iterdir()) == [".gitignore", "lock"]
    assert import_zip(data, home).folder.name == "small"


KILLED = """
import os, sys
from pathlib import Path
from fallow.records import share
class Killed:
    open = staticmethod(lambda folder: os.kill(os.getpid(), 9))
share.Experiment = Killed
share.import_zip(Path(sys.argv[1]), sys.argv[2])
"""


def test_an_import_killed_before_it_is_done_is_not_there_and_is_cleared_away(
    small: Experiment, home: Path, tmp_path: Path
) -> None:
    file = export_zip(small, tmp_path / "small.zip")
    env = os.environ | {"PYTHONPATH": str(ROOT / "lib")}
    done = subprocess.run([sys.executable, "-c", KILLED, str(file), str(home)], env=env, check=False)
    assert done.returncode == -9
    assert not (home / "small").exists()
    assert list(home.glob(".fallow/import-*")) != []
    import_zip(file, home)
    assert list(home.glob(".fallow/import-*")) == []
    assert Experiment.open(home / "small").check() == []


def test_an_older_record_is_brought_forward_on_its_way_in(
    small: Experiment, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = zip_bytes(small)
    stepped = []
    monkeypatch.setattr(share, "SCHEMA_VERSION", 2)
    monkeypatch.setattr(share, "migrate", lambda folder: stepped.append(folder.name))
    came = import_zip(data, home)
    assert stepped == ["small"]
    assert came.migrated
    assert "It was made by an older Fallow and was brought forward." in came.remarks


@pytest.fixture(scope="module")
def sound_zip(small_once: Path) -> bytes:
    return zip_bytes(Experiment.open(small_once))


def taken_in(data: bytes, home: Path) -> Path | None:
    """Return where an import stands, or None when it was refused."""
    try:
        return import_zip(data, home).folder
    except ValueError:
        return None


@settings(max_examples=150, suppress_health_check=list(HealthCheck))
@given(seed=st.integers(0, 2**32), spoiled=st.integers(1, 6))
def test_a_zip_with_any_bytes_spoiled_is_refused_or_is_whole(
    sound_zip: bytes, seed: int, spoiled: int, tmp_path_factory: pytest.TempPathFactory
) -> None:
    dice = random.Random(seed)
    data = bytearray(sound_zip)
    for _ in range(spoiled):
        # the directory at the end is where a lie pays
        at = dice.randrange(len(data)) if dice.random() < 0.4 else dice.randrange(len(data) - 900, len(data))
        data[at] = dice.randrange(256)
    top = tmp_path_factory.mktemp("spoiled")
    home = top / "experiments"
    home.mkdir()
    came = taken_in(bytes(data), home)
    if came:
        assert came.parent == home
        assert Experiment.open(came).check() == []
    assert [one.name for one in top.iterdir()] == ["experiments"]
    assert [one for one in home.iterdir() if one.name != ".fallow" and one != came] == []


@given(st.text(max_size=30))
def test_a_name_without_fault_stays_below_its_folder_on_both_kinds_of_system(name: str) -> None:
    if name_fault(name):
        return
    for system in (ntpath, posixpath):
        inside = system.normpath(system.join("C:/home" if system is ntpath else "/home", name)).replace("\\", "/")
        assert inside.startswith(("C:/home/", "/home/"))
        assert inside.rsplit("/", 1)[-1] == name.removesuffix("/").rsplit("/", 1)[-1]


def test_the_package_file_is_what_makes_an_experiment(sound: dict[str, bytes]) -> None:
    assert f"small/{PACKAGE_FILE}" in sound
