"""Make Fallow's environment, ``.venv``, from the lock beside this file, with the standard library alone.

``ready()`` is the one door: it gives the environment's Python, and makes the environment first when there is none,
when its inputs have changed, or when the last attempt was cut off. The stamp is written last, so that a half-made
environment is never taken for a whole one. Whatever cannot be done ends in one sentence and exit status 1.
"""

from __future__ import annotations

import hashlib
import importlib.util
import os
import platform
import re
import shutil
import subprocess
import sys
import sysconfig
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NoReturn

ROOT = Path(__file__).resolve().parent.parent
LOCK = ROOT / "binder" / "requirements.txt"
OVERRIDES = ROOT / "binder" / "overrides.json"
VENV = ROOT / ".venv"
STAMP = VENV / "fallow-stamp.txt"
BASE = {"base": str(VENV), "platbase": str(VENV)}
SITE = Path(sysconfig.get_path("purelib", "venv", vars=BASE))
PYTHON = Path(sysconfig.get_path("scripts", "venv", vars=BASE)) / ("python.exe" if os.name == "nt" else "python")

# Only a check of international web addresses needs these two, and loading them costs every start two seconds.
LEFT_OUT = ("lark", "rfc3987-syntax")
# Left in place, these would make a child recompile on each start, or look for packages somewhere else.
UNWANTED = ("PYTHONDONTWRITEBYTECODE", "PYTHONHOME", "PYTHONPATH", "PIP_USER", "PIP_TARGET", "PIP_PREFIX")
UNREACHABLE = re.compile(
    r"name resolution|connection|network is unreachable|timed? ?out|proxy|dns error|error sending request|"
    r"from versions: none",
    re.IGNORECASE,
)
# The matrices here are a few rows wide: more than one thread costs more than it gives, most of all on a busy machine.
USUAL = {"OPENBLAS_NUM_THREADS": "1"}


def ready() -> Path:
    """Return the environment's Python, making the environment first if it is not whole and current."""
    try:
        if not whole():
            with one_at_a_time() as held:
                if not whole():
                    make(held)
    except KeyboardInterrupt:
        print("\nStopped. The next start makes the environment anew.")
        raise SystemExit(130) from None
    except OSError as error:
        stop(
            f"the environment could not be written ({error}). Make room and check who may write here, then start again."
        )
    return PYTHON


def at_root(command: str) -> None:
    """End unless the command was given in Fallow's own folder, from which every path in the pages is counted."""
    if not Path.cwd().samefile(ROOT):
        stop(f'this starts from its own folder only. Type: cd "{ROOT}" and then: {command}')


def whole() -> bool:
    """Say whether the stamp fits the inputs and everything it lists is still there."""
    if not (STAMP.is_file() and PYTHON.exists() and SITE.is_dir()):
        return False
    stamp, *installed = STAMP.read_text(encoding="utf-8").splitlines()
    return stamp == inputs() and set(installed) <= present()


def inputs() -> str:
    """Return one hash over all that decides what the environment holds."""
    digest = hashlib.sha256()
    for path in (LOCK, OVERRIDES, Path(__file__)):
        digest.update(path.read_bytes())
    digest.update(f"{sys.implementation.cache_tag} {sys.platform} {platform.machine()}".encode())
    return digest.hexdigest()


def make(held: int) -> None:
    """Make the environment from nothing, one printed line a step; ``held`` is the lock its children share."""
    began = time.perf_counter()
    if importlib.util.find_spec("ensurepip") is None or importlib.util.find_spec("venv") is None:
        stop("this Python cannot make environments. On Debian or Ubuntu: apt install python3-venv, then start again.")
    say("Making the environment in .venv: once, half a minute to two minutes, about 1 GB.")
    clear()
    say("  1 of 3  an empty environment")
    fails = run(sys.executable, "-m", "venv", "--prompt", "fallow", str(VENV), held=held)
    if fails:
        refuse(fails)
    say("  2 of 3  the packages of binder/requirements.txt, each checked against its hash")
    install(held)
    say("  3 of 3  the library, the settings and the stamp")
    settle(held)
    say(f"The environment is ready after {time.perf_counter() - began:.0f} s.")


def clear() -> None:
    """Remove what an earlier attempt left, its stamp first; a link is somebody else's folder and is left alone."""
    if VENV.is_symlink():
        stop(".venv is a link to an environment that does not fit. Remove the link, then start again.")
    STAMP.unlink(missing_ok=True)
    if VENV.exists():
        shutil.rmtree(VENV)


def install(held: int) -> None:
    """Install the lock without the packages left out: with uv, itself from the lock, or else with pip."""
    locked = requirements()
    wanted = VENV / "wanted.txt"
    wanted.write_text("".join(text for name, text in locked if name not in LEFT_OUT), encoding="utf-8")
    only_uv = VENV / "uv.txt"
    only_uv.write_text("".join(text for name, text in locked if name == "uv"), encoding="utf-8")
    options = ("--quiet", "--no-deps", "--require-hashes", "--requirement")
    pip = (str(PYTHON), "-m", "pip", "install", "--retries", "2")
    fails = run(*pip, *options, str(only_uv), held=held)
    if UNREACHABLE.search(fails):
        refuse(fails)
    if not fails:
        uv = (str(PYTHON), "-m", "uv", "pip", "install", "--python", str(PYTHON))
        fails = run(*uv, *options, str(wanted), held=held)
    if fails:
        say("          uv could not do it here; pip can, and takes a minute or two")
        fails = run(*pip, *options, str(wanted), held=held)
    if fails:
        refuse(fails)


def requirements() -> list[tuple[str, str]]:
    """Return the lock as (name, text with its hashes); a package may stand twice, for older and newer Pythons."""
    blocks = re.findall(
        r"^[A-Za-z0-9].*?(?=^[A-Za-z0-9]|\Z)", LOCK.read_text(encoding="utf-8"), re.DOTALL | re.MULTILINE
    )
    return [(re.match(r"[\w.-]+", block)[0].lower(), block) for block in blocks]


def settle(held: int) -> None:
    """Put lib/ on the path, keep JupyterLab's news box away, see that it all loads, and only then write the stamp."""
    # Relative, so that the folder may be moved and may have any letters in its name.
    (SITE / "fallow.pth").write_text(os.path.relpath(ROOT / "lib", SITE) + "\n", encoding="utf-8")
    settings = VENV / "share" / "jupyter" / "lab" / "settings"
    settings.mkdir(parents=True, exist_ok=True)
    shutil.copy(OVERRIDES, settings)
    fails = run(str(PYTHON), "-c", "import fallow, numpy, jupyterlab", held=held)
    if fails:
        refuse(fails)
    stamp()


def stamp() -> None:
    """Write down which inputs the environment was made from, and what must be in it."""
    installed = sorted(present() - {"__pycache__"})
    making = STAMP.with_suffix(".making")
    making.write_text("\n".join([inputs(), *installed]) + "\n", encoding="utf-8")
    making.replace(STAMP)


def present() -> set[str]:
    """Return the names of what is installed."""
    return {path.name for path in SITE.iterdir()}


@contextmanager
def one_at_a_time() -> Iterator[int]:
    """Hold the lock that only one start has, and give its number; the system frees it when its last holder ends."""
    with (ROOT / ".venv.lock").open("a") as handle:
        if not taken(handle.fileno()):
            say("Another start is making the environment: waiting for it.")
            while not taken(handle.fileno()):
                time.sleep(0.2)
        yield handle.fileno()


def taken(number: int) -> bool:
    """Try once to take the lock."""
    try:
        if os.name == "nt":
            import msvcrt

            msvcrt.locking(number, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(number, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    return True


def run(*words: str, held: int) -> str:
    """Run one step and return what it printed if it failed, else nothing.

    The child shares the lock: were this start killed, the next would still wait for what it left running.
    """
    shared = {} if os.name == "nt" else {"pass_fds": (held,)}
    done = subprocess.run(
        words,
        env=surroundings(),
        cwd=ROOT,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
        errors="replace",
        check=False,
        **shared,
    )
    return "" if done.returncode == 0 else done.stdout or f"exit status {done.returncode}"


def surroundings(**more: str) -> dict[str, str]:
    """Return the environment variables for a child, and ``more`` with them."""
    kept = {name: value for name, value in os.environ.items() if name not in UNWANTED}
    return USUAL | kept | {"PIP_DISABLE_PIP_VERSION_CHECK": "1", "PIP_NO_INPUT": "1"} | more


def become(*words: str, env: dict[str, str]) -> NoReturn:
    """Let the command take this process's place, so that Ctrl-C and the exit status are its own."""
    sys.stdout.flush()
    if os.name != "nt":
        os.execve(words[0], words, env)
    try:
        raise SystemExit(subprocess.call(words, env=env))
    except KeyboardInterrupt:
        raise SystemExit(130) from None


def refuse(printed: str) -> NoReturn:
    """End with the one sentence that fits what a failed step printed."""
    if UNREACHABLE.search(printed):
        stop("the packages could not be fetched, no package index answered. Connect to the network, then start again.")
    lines = [line.strip() for line in printed.splitlines() if line.strip()]
    told = next((line for line in reversed(lines) if "error" in line.lower()), lines[-1] if lines else "nothing said")
    stop(f"the environment could not be made ({told[:300]}). Mend that, then start again.")


def stop(sentence: str) -> NoReturn:
    """End with exit status 1 and one sentence."""
    message = f"Fallow: {sentence}"
    raise SystemExit(message)


def say(line: str) -> None:
    """Print one line at once."""
    print(line, flush=True)
