"""The two commands from nothing: what they make, what they refuse in one sentence, what an interruption leaves."""

from __future__ import annotations

import ast
import importlib.util
import os
import shutil
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import pytest
from tests.browser.lab import free_port

ROOT = Path(__file__).resolve().parent.parent
# Nothing listens on port 9 of this machine; whatever else would lead to a package index is switched off.
NO_INDEX = {
    "PIP_INDEX_URL": "http://127.0.0.1:9/simple",
    "PIP_CONFIG_FILE": os.devnull,
    "PIP_FIND_LINKS": "",
    "PIP_EXTRA_INDEX_URL": "",
}
PRETEND = (
    "import runpy, sys; {}; sys.argv = ['workbook', '--no-browser']; runpy.run_path('workbook', run_name='__main__')"
)


@pytest.fixture
def clone(tmp_path):
    """Copy what a fresh clone holds, under a name with a space and letters beyond ASCII, with no environment."""
    folder = tmp_path / "kitchen é Ω" / "fallow"
    for name in ("binder", "workbook", "lib", "tests"):
        shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md"):
        shutil.copy(ROOT / name, folder)
    return folder


@pytest.fixture
def environment(tmp_path, monkeypatch):
    """Load the module with an environment of its own: folders and one package, nothing installed."""
    spec = importlib.util.spec_from_file_location("environment_under_test", ROOT / "binder" / "environment.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    site = tmp_path / ".venv" / "site"
    for name, path in {"ROOT": tmp_path, "VENV": tmp_path / ".venv", "SITE": site}.items():
        monkeypatch.setattr(module, name, path)
    monkeypatch.setattr(module, "STAMP", tmp_path / ".venv" / "stamp.txt")
    monkeypatch.setattr(module, "PYTHON", tmp_path / ".venv" / "python")
    (site / "numpy").mkdir(parents=True)
    module.PYTHON.touch()
    return module


def start(folder, *words, code=None, cwd=None, **env):
    """Start ``python workbook ...`` in a folder, as a reader would, and wait for its end."""
    script = ["-c", PRETEND.format(code)] if code else [str(folder / "workbook" if cwd else "workbook"), *words]
    kept = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    return subprocess.run(
        [sys._base_executable, *script], cwd=cwd or folder, env=kept | env, capture_output=True, text=True, check=False
    )


def refused(done, *said):
    """See one sentence on the error stream, exit status 1, and no traceback."""
    assert done.returncode == 1, done.stderr
    lines = done.stderr.strip().splitlines()
    assert len(lines) == 1, done.stderr
    assert lines[0].startswith("Fallow: ")
    for words in said:
        assert words in lines[0]


@pytest.mark.parametrize("command", ["workbook", "tests"])
def test_an_old_python_can_read_as_far_as_the_refusal(command):
    source = (ROOT / command / "__main__.py").read_text(encoding="utf-8")
    ast.parse(source, feature_version=(3, 6))
    assert "from __future__" not in source  # 3.6 knows no annotations there
    assert source.index("sys.version_info < (3, 11)") < source.index("import argparse")


def test_a_python_too_old_is_told_so(clone):
    done = start(clone, code="sys.version_info = (3, 8, 18); sys.version = '3.8.18 (default)'")
    refused(done, "Python 3.11 or newer", "3.8.18")


def test_a_python_without_ensurepip_is_told_what_to_install(clone):
    refused(start(clone, code="sys.modules['ensurepip'] = None"), "apt install python3-venv")
    assert not (clone / ".venv").exists()


def test_another_folder_is_told_where_to_go(clone, tmp_path):
    refused(start(clone, cwd=tmp_path), f'cd "{clone}"', "python3 workbook")


def test_no_network_is_said_and_leaves_no_stamp(clone):
    done = start(clone, "--no-browser", **NO_INDEX)
    refused(done, "no package index answered", "Connect to the network")
    assert not (clone / ".venv" / "fallow-stamp.txt").exists()


def test_a_link_to_an_environment_that_does_not_fit_is_left_alone(clone, tmp_path):
    other = tmp_path / "other"
    other.mkdir()
    (other / "kept.txt").touch()
    (clone / ".venv").symlink_to(other)
    refused(start(clone, "--no-browser"), ".venv is a link")
    assert (other / "kept.txt").exists()


def test_a_stamped_environment_is_whole(environment):
    assert not environment.whole()
    environment.stamp()
    assert environment.whole()


def test_a_package_more_does_no_harm(environment):
    environment.stamp()
    (environment.SITE / "added").mkdir()
    assert environment.whole()


@pytest.mark.parametrize("gone", ["numpy", "python", "stamp"])
def test_damage_is_noticed(environment, gone):
    environment.stamp()
    path = {"numpy": environment.SITE / "numpy", "python": environment.PYTHON, "stamp": environment.STAMP}[gone]
    path.rmdir() if path.is_dir() else path.unlink()
    assert not environment.whole()


@pytest.mark.parametrize("name", ["LOCK", "OVERRIDES"])
def test_a_changed_input_is_noticed(environment, tmp_path, monkeypatch, name):
    environment.stamp()
    changed = tmp_path / "changed"
    changed.write_bytes(getattr(environment, name).read_bytes() + b"\n")
    monkeypatch.setattr(environment, name, changed)
    assert not environment.whole()


@pytest.mark.parametrize("broken_step", [1, 2, 3, 4])
def test_a_step_that_fails_leaves_no_stamp(environment, monkeypatch, broken_step):
    steps = []

    def run(*words, held):
        steps.append(words)
        environment.SITE.mkdir(parents=True, exist_ok=True)
        # Getting uv may fail (step 2): pip then does its work. So from there on everything fails.
        return "error: spilt" if len(steps) >= broken_step else ""

    monkeypatch.setattr(environment, "run", run)
    environment.stamp()
    with pytest.raises(SystemExit, match=r"could not be made \(error: spilt\)"):
        environment.make(0)
    assert not environment.whole()
    assert len(steps) >= broken_step


def test_uv_comes_from_the_lock_and_two_packages_stay_out(environment, monkeypatch):
    monkeypatch.setattr(environment, "run", lambda *words, held: "")
    environment.install(0)
    uv, wanted = ((environment.VENV / name).read_text() for name in ("uv.txt", "wanted.txt"))
    assert uv.startswith("uv==")
    assert uv.count("--hash=sha256:") > 5
    names = {line.split("==")[0] for line in wanted.splitlines() if "==" in line}
    every = {line.split("==")[0] for line in environment.LOCK.read_text().splitlines() if "==" in line}
    assert every - names == set(environment.LEFT_OUT)


def test_pip_takes_over_where_uv_cannot(environment, monkeypatch):
    ran = []

    def run(*words, held):
        ran.append(words[2])
        return "" if words[2] == "pip" else "error: no such platform"

    monkeypatch.setattr(environment, "run", run)
    environment.install(0)
    assert ran == ["pip", "uv", "pip"]


def test_the_lock_is_one_at_a_time_and_a_child_left_behind_still_holds_it(environment):
    hold = "import sys, time; print('held', flush=True); sys.stdin.read()"
    with environment.one_at_a_time() as held:
        child = subprocess.Popen(
            [sys.executable, "-c", hold], pass_fds=(held,), stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        assert child.stdout.readline() == "held\n"
    with (environment.ROOT / ".venv.lock").open("a") as other:
        assert not environment.taken(other.fileno())
        child.communicate("")
        assert environment.taken(other.fileno())


def test_children_are_given_no_variable_that_slows_or_misleads_them(environment, monkeypatch):
    for name in environment.UNWANTED:
        monkeypatch.setenv(name, "1")
    given = environment.surroundings(EXTRA="2")
    assert not set(environment.UNWANTED) & set(given)
    assert given["EXTRA"] == "2"


def test_children_compute_on_one_thread_unless_the_reader_said_otherwise(environment, monkeypatch):
    monkeypatch.delenv("OPENBLAS_NUM_THREADS", raising=False)
    assert environment.surroundings()["OPENBLAS_NUM_THREADS"] == "1"
    monkeypatch.setenv("OPENBLAS_NUM_THREADS", "2")
    assert environment.surroundings()["OPENBLAS_NUM_THREADS"] == "2"


def answered(port):
    """Wait for a server's answer on a port of this machine; return the page it leads to."""
    until = time.monotonic() + 120
    while time.monotonic() < until:
        try:
            return urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=5).url
        except urllib.error.HTTPError as answer:
            return answer.url
        except OSError:
            time.sleep(0.05)
    message = "no answer"
    raise AssertionError(message)


def made(folder):
    return (folder / ".venv" / "fallow-stamp.txt").exists()


@pytest.mark.long
def test_killed_in_the_middle_then_made_then_started_at_once(clone):
    port = free_port()
    words = [sys._base_executable, "workbook", "--no-browser", "--port", str(port)]
    first = subprocess.Popen(words, cwd=clone, stdout=subprocess.PIPE, text=True)
    for line in first.stdout:
        if "2 of 3" in line:
            break
    first.send_signal(signal.SIGKILL)
    first.communicate()
    assert not made(clone)
    twice = []
    for _ in range(2):
        began = time.monotonic()
        server = subprocess.Popen(words, cwd=clone, start_new_session=True)
        assert "/login" in answered(port)
        twice.append(time.monotonic() - began)
        server.send_signal(signal.SIGINT)
        assert server.wait(30) == 0
    print("seconds from nothing to an answer, and again:", *(round(seconds, 1) for seconds in twice))
    assert made(clone)


@pytest.mark.long
def test_two_starts_at_once_make_one_environment(clone):
    words = [sys._base_executable, "tests", "--fast", "-k", "arguments"]
    both = [
        subprocess.Popen(words, cwd=clone, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True) for _ in "ab"
    ]
    printed = [process.communicate()[0] for process in both]
    assert sum("The environment is ready" in text for text in printed) == 1
    assert sum("Another start is making the environment" in text for text in printed) == 1
    assert all("1 of 3" in text or "waiting" in text for text in printed)
