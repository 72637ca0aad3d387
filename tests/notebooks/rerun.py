"""Run analysis notebooks from top to bottom in a fresh kernel and save them with their outputs.

    .venv/bin/python tests/notebooks/rerun.py experiments/harbour-rota/analysis.ipynb

Nothing else is kept: no widget state, no timings, no versions; so a second run changes nothing.
"""

from __future__ import annotations

import sys
from pathlib import Path

import nbformat
from nbclient import NotebookClient


def rerun(path: Path) -> None:
    """Run one notebook in its own folder and write it back; a failing cell raises and leaves the file as it was."""
    notebook = nbformat.read(path, as_version=4)
    client = NotebookClient(
        notebook,
        timeout=600,
        kernel_name="python3",
        store_widget_state=False,
        record_timing=False,
        resources={"metadata": {"path": str(path.parent)}},
    )
    client.execute()
    notebook.metadata["language_info"] = {"name": "python"}
    for cell in notebook.cells:
        cell.metadata.pop("execution", None)
    path.write_text(nbformat.writes(notebook) + "\n", encoding="utf-8")


def main() -> None:
    """Run every notebook named, or every analysis there is."""
    root = Path(__file__).resolve().parent.parent.parent
    named = [Path(word) for word in sys.argv[1:]] or sorted((root / "experiments").glob("*/analysis.ipynb"))
    for path in named:
        print(f"Running {path.resolve().relative_to(root)}")
        rerun(path.resolve())


if __name__ == "__main__":
    main()
