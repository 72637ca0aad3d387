"""Make the lock again from pyproject.toml: ``.venv/bin/python binder/relock.py [--upgrade] [-P package]``.

What still fits stays at its version, unless ``--upgrade`` or ``-P package`` asks for newer ones. The lock is for every
platform and Python from 3.11 on, hashed, and names no package index.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
# A header would repeat this command, and with it whatever index was given on it.
OPTIONS = (
    *("--group", "dev", "--universal", "--python-version", "3.11"),
    *("--generate-hashes", "--no-header", "--no-annotate", "--no-emit-index-url", "--no-emit-find-links"),
)


def main() -> int:
    """Run uv's resolver from the project's root and return its exit status."""
    words = [sys.executable, "-m", "uv", "pip", "compile", "pyproject.toml", *OPTIONS]
    return subprocess.call([*words, "--quiet", "--output-file", "binder/requirements.txt", *sys.argv[1:]], cwd=ROOT)


if __name__ == "__main__":
    raise SystemExit(main())
