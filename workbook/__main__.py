"""Open Fallow's pages in JupyterLab: ``python3 workbook [--no-browser] [--port N]``."""

import sys

# Before anything a Python older than 3.11 could not read.
if sys.version_info < (3, 11):  # noqa: UP036
    sys.exit(
        f"Fallow: Python 3.11 or newer is needed, and this is {sys.version.split()[0]}. Start again with a newer one."
    )

import argparse
import os
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path[0] = str(ROOT / "binder")

import environment  # noqa: E402

FIRST_PAGE = "workbook/start.ipynb"


def main() -> None:
    """Make the environment if there is none, then give way to JupyterLab."""
    ask = argparse.ArgumentParser(prog="python3 workbook", description="Open Fallow's pages in JupyterLab.")
    ask.add_argument("--no-browser", action="store_true", help="serve the pages, and print their address")
    ask.add_argument("--port", type=int, help="serve on this port of this machine (else the first free one from 8888)")
    asked = ask.parse_args()
    environment.at_root("python3 workbook")
    python = environment.ready()
    private = ROOT / ".running"
    # Jupyter's own folders, and IPython's, stay as they are: what other work set there must not change these pages.
    env = environment.surroundings(
        JUPYTER_CONFIG_DIR=str(private / "config"),
        JUPYTER_DATA_DIR=str(private / "data"),
        JUPYTER_RUNTIME_DIR=str(private / "runtime"),
        IPYTHONDIR=str(private / "ipython"),
    )
    environment.say("Opening the pages. Ctrl-C here closes them.")
    environment.become(str(python), *words(port=asked.port, browser=not asked.no_browser), env=env)


def words(*, port: int | None, browser: bool) -> list[str]:
    """Return what follows the environment's Python to serve this folder, to this machine only, with a token."""
    chosen = [
        str(ROOT / "binder" / "serve.py"),
        f"--ServerApp.root_dir={ROOT}",
        "--ServerApp.ip=127.0.0.1",
        "--ServerApp.answer_yes=True",
        # A browser kept to a sandbox may not read the hidden file that Jupyter would open first.
        "--ServerApp.use_redirect_file=False",
        f"--LabApp.default_url=/doc/tree/{FIRST_PAGE}",
        # Three features that would ask outside addresses.
        "--LabApp.news_url=None",
        "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
        "--LabApp.extension_manager=readonly",
        "--Application.log_level=WARN",
    ]
    if port is not None:
        chosen += [f"--ServerApp.port={port}", "--ServerApp.port_retries=0"]
    if not browser:
        chosen.append("--no-browser")
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        chosen.append("--allow-root")
    return chosen


if __name__ == "__main__":
    main()
