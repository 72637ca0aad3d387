"""Fallow's own JupyterLab in Chromium, for tests of the pages.

A test asks for the fixture ``lab`` (see conftest.py here) and carries the mark ``browser``:

    pytestmark = pytest.mark.browser

    def test_the_sentence_follows_the_slider(lab):
        page = lab.open("workbook/feeds_to_recovery.ipynb")          # opened, run top to bottom, no cell failed
        slider = page.get_by_role("slider", name="Days held, days")
        slider.focus()
        page.keyboard.press("ArrowRight")
        expect(page.get_by_role("status")).to_have_text(re.compile("22 days"))
        lab.picture(page, "moved")                                   # a screenshot, its path is returned

- The server is started by the real command, ``python workbook --no-browser --port N``, in a *copy* of what the pages read:
  workbook/, experiments/, tests/reference (``lab.folder``), once for each test module: write there as you like. lib/ is the checkout's own.
- Each test gets its own browser context; after it, its kernels are ended, so the next one starts clean.
- ``lab.outside`` lists every request that tried to leave 127.0.0.1 (it was stopped), ``lab.errors`` every uncaught
  error of the page. Both must be empty when a test ends: the fixture asserts it. ``lab.console`` and ``lab.log()`` help
  to find out why.
- A test whose page looks at the clock opens ``lab.stopped(path, now=...)``: a copy on which it is always one hour, so that no
  hour of the day decides whether it passes.
- Wait with ``expect(...)`` for what the reader would see, never for a time.
- ``page.set_viewport_size`` or ``lab.open(..., width=768, height=1024)`` changes the width.
- ``lab.output(page, 1)`` is the output of the second cell (Markdown cells count); scope a locator to it when two match.
- Read ``aria-valuetext``, not ``aria-valuenow``. A control must stop its keydown events from rising, or the
  notebook takes the arrows.
- Pictures go to the test's own temporary folder, or to the folder named in FALLOW_PICTURES.
"""

from __future__ import annotations

import json
import os
import re
import secrets
import shutil
import signal
import socket
import struct
import subprocess
import sys
import time
import urllib.parse
import urllib.request
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

import nbformat
from playwright.sync_api import Browser, BrowserContext, Page, Route, WebSocket, expect

ROOT = Path(__file__).resolve().parent.parent.parent
CHROMIUM_ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-dev-shm-usage",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
KERNEL_IDLE = re.compile(r"\| Idle")


class Server:
    """The project's own JupyterLab on a copy of its pages and experiments."""

    def __init__(self, home: Path) -> None:
        self.folder = copy_of_project(home / "copy")
        self.port, self.token = free_port(), secrets.token_hex(16)
        self.log_path = home / "server.log"
        words = [*with_us(), sys.executable, "workbook", "--no-browser", "--port", str(self.port)]
        env = os.environ | {"JUPYTER_TOKEN": self.token}
        with self.log_path.open("w") as log:
            self.process = subprocess.Popen(
                words, cwd=self.folder, env=env, stdout=log, stderr=subprocess.STDOUT, start_new_session=True
            )
        self.wait_until_it_answers(seconds=90)

    def wait_until_it_answers(self, *, seconds: float) -> None:
        """Return when the server answers; fail with its log when it ended or kept silent."""
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            if self.process.poll() is not None:
                break
            try:
                self.ask("GET", "api/status")
            except OSError:
                time.sleep(0.05)
            else:
                return
        self.stop()
        message = f"JupyterLab did not answer within {seconds:g} s. Its log ends: {self.log_path.read_text()[-2000:]}"
        raise RuntimeError(message)

    @property
    def origin(self) -> str:
        """The address everything must stay on."""
        return f"http://127.0.0.1:{self.port}"

    def ask(self, method: str, path: str) -> Any:
        """Ask the server's own interface and return the answer."""
        request = urllib.request.Request(f"{self.origin}/{path}", method=method)
        request.add_header("Authorization", f"token {self.token}")
        with urllib.request.urlopen(request, timeout=10) as answer:
            told = answer.read()
        return json.loads(told) if told else None

    def end_kernels(self) -> None:
        """End every kernel that a page left running."""
        for session in self.ask("GET", "api/sessions"):
            self.ask("DELETE", f"api/sessions/{session['id']}")

    def stop(self) -> None:
        """End the server; only the process group that was started here."""
        if self.process.poll() is not None:
            return
        try:
            self.ask("POST", "api/shutdown")
            self.process.wait(15)
        except (OSError, subprocess.TimeoutExpired):
            os.killpg(self.process.pid, signal.SIGTERM)
            self.process.wait(15)


@dataclass
class Lab:
    """One test's view of the server: a browser context that nothing leaves unseen."""

    server: Server
    context: BrowserContext
    pictures: Path
    outside: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    console: list[str] = field(default_factory=list)
    answers: list[dict[str, Any]] = field(default_factory=list)

    @classmethod
    def start(cls, server: Server, browser: Browser, pictures: Path) -> Lab:
        """Open a fresh context whose every request is looked at."""
        context = browser.new_context(viewport={"width": 1280, "height": 800}, service_workers="block")
        made = cls(server=server, context=context, pictures=pictures)
        context.route("**/*", made._look_at)
        context.on("page", made._listen)
        return made

    @property
    def folder(self) -> Path:
        """The copy of the project that the server shows."""
        return self.server.folder

    def open(self, path: str, *, run: bool = True, width: int = 1280, height: int = 800) -> Page:
        """Open a notebook (its path from the project's root), run all its cells and see that none failed."""
        page = self.context.new_page()
        page.set_viewport_size({"width": width, "height": height})
        page.goto(f"{self.server.origin}/doc/tree/{path}?token={self.server.token}&reset")
        expect(page.locator(".jp-Notebook .jp-Cell").first).to_be_visible(timeout=60_000)
        if run:
            self.run_all(page)
        return page

    def stopped(self, path: str, *, now: datetime, time_zone: str = "") -> str:
        """Write a copy of a page on which it is always ``now``, and return its path from the project's root."""
        book = nbformat.read(self.folder / path, as_version=4)
        cell = next(cell for cell in book.cells if cell.cell_type == "code")
        zone = f", time_zone={time_zone!r}" if time_zone else ""
        given = f'"../experiments", now=lambda: datetime.fromisoformat({now.isoformat()!r}){zone})'
        assert '"../experiments")' in cell.source, cell.source
        cell.source = "from datetime import datetime\n" + cell.source.replace('"../experiments")', given)
        copy = path.replace(".ipynb", "_stopped.ipynb")
        nbformat.write(book, self.folder / copy)
        return copy

    def run_all(self, page: Page, *, seconds: float = 120) -> None:
        """Run every cell from the menu; fail with the error of a cell that failed."""
        # A Run All given before the kernel is connected is lost without a word; only the status bar knows for sure.
        expect(page.locator("#jp-main-statusbar").get_by_text(KERNEL_IDLE)).to_be_visible(timeout=90_000)
        self.answers.clear()
        page.get_by_role("menuitem", name="Run", exact=True).click()
        page.get_by_role("menuitem", name="Run All Cells", exact=True).click()
        # The kernel's own answers: hidden cells have no prompt, and the page calls itself idle before it has begun.
        until = time.monotonic() + seconds
        while len(self.answers) < self.cells_with_code(page):
            assert time.monotonic() < until, f"after {seconds:g} s {len(self.answers)} cells had run"
            page.wait_for_timeout(20)
            self.see_that_no_cell_failed()
        self.see_that_no_cell_failed()

    def see_that_no_cell_failed(self) -> None:
        """Fail with the name and the text of the first error a cell ended in."""
        failed = [answer for answer in self.answers if answer["status"] == "error"]
        assert not failed, f"{failed[0]['ename']}: {failed[0]['evalue']}"

    def cells_with_code(self, page: Page) -> int:
        """Count the cells that the kernel will answer for, as they stand in the page's file."""
        path = urllib.parse.unquote(urllib.parse.urlsplit(page.url).path).removeprefix("/doc/tree/")
        cells = json.loads((self.folder / path).read_text(encoding="utf-8"))["cells"]
        return sum(cell["cell_type"] == "code" and bool("".join(cell["source"]).strip()) for cell in cells)

    def cell(self, page: Page, number: int) -> Any:
        """Return one cell; the first is 0, and text cells count."""
        return page.locator(".jp-Notebook .jp-Cell").nth(number)

    def output(self, page: Page, number: int) -> Any:
        """Return what one cell shows (its last output, when it has several)."""
        return self.cell(page, number).locator(".jp-OutputArea-output").last

    def picture(self, page: Page, name: str) -> Path:
        """Take a screenshot and return where it is."""
        path = self.pictures / f"{name}.png"
        page.screenshot(path=str(path))
        return path

    def log(self) -> str:
        """Return what the server has printed."""
        return self.server.log_path.read_text()

    def close(self) -> None:
        """Close the pages and end their kernels."""
        self.context.close()
        self.server.end_kernels()

    def _look_at(self, route: Route) -> None:
        if route.request.url.startswith((f"{self.server.origin}/", "data:", "blob:")):
            route.continue_()
        else:
            self.outside.append(route.request.url)
            route.abort()

    def _listen(self, page: Page) -> None:
        page.on("pageerror", lambda error: self.errors.append(str(error)))
        page.on("console", lambda line: self.console.append(f"{line.type}: {line.text}"))
        page.on("websocket", self._look_at_socket)

    def _look_at_socket(self, wire: WebSocket) -> None:
        if not wire.url.startswith(f"ws://127.0.0.1:{self.server.port}/"):
            self.outside.append(wire.url)
        if "/api/kernels/" in wire.url:
            wire.on("framereceived", self._hear)

    def _hear(self, frame: str | bytes) -> None:
        header, content = kernel_message(frame) if isinstance(frame, bytes) else ({}, {})
        if header.get("msg_type") == "execute_reply":
            self.answers.append(content)


def kernel_message(frame: bytes) -> tuple[dict[str, Any], dict[str, Any]]:
    """Take a message apart: a count of offsets, the offsets, then channel, header, parent, metadata, content, buffers.

    Source: the binary layout v1.kernel.websocket.jupyter.org, in Jupyter Server's documentation of its websockets.
    """
    (count,) = struct.unpack_from("<Q", frame)
    offsets = struct.unpack_from(f"<{count}Q", frame, 8)
    header = json.loads(frame[offsets[1] : offsets[2]])
    return header, json.loads(frame[offsets[4] : offsets[5]]) if header["msg_type"] == "execute_reply" else {}


def copy_of_project(folder: Path) -> Path:
    """Copy what the pages read and write; the environment and the library are the checkout's own."""
    folder.mkdir(parents=True)
    leave = shutil.ignore_patterns("__pycache__", ".ipynb_checkpoints", ".drafts", ".running")
    for name in ("binder", "workbook", "experiments", "tests/reference"):
        shutil.copytree(ROOT / name, folder / name, ignore=leave)
    for name in (".venv", "lib", "pyproject.toml"):
        (folder / name).symlink_to(ROOT / name)
    return folder


def with_us() -> list[str]:
    """Return what makes a child end when this process is killed, where the system can do that (Linux)."""
    found = shutil.which("setpriv")
    return [found, "--pdeathsig", "TERM"] if found else []


def free_port() -> int:
    """Return a port of this machine that nothing listens on."""
    with socket.socket() as asked:
        asked.bind(("127.0.0.1", 0))
        return int(asked.getsockname()[1])


def chromium() -> str | None:
    """Return where Chromium is, if this machine has it."""
    return shutil.which("chromium") or shutil.which("chromium-browser")
