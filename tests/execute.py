"""Run notebooks from top to bottom and save them as they are committed: ``python tests/execute.py notebooks/*.ipynb``.

Saved: what each cell prints and shows. Not saved: widget state (11 to 37 KiB a notebook) and the live view of a widget,
which is of no use without a kernel; the panel's picture and words stay, for who reads the page on the web.

Each cell is locked, so that a key typed on a focused slider or menu cannot cut it or turn it to text, and code is folded to a
quiet line. ``python tests/execute.py --lock notebooks/*.ipynb`` does that alone, without running them.
"""

from __future__ import annotations

import sys
from pathlib import Path

import nbformat
from nbclient import NotebookClient

LIVE = "application/vnd.jupyter.widget-view+json"


def metadata(cell) -> dict:
    """What a cell says of itself: locked, its code folded, and its tags, if any."""
    kept = {key: value for key, value in cell.metadata.items() if key == "tags"}
    folded = {"jupyter": {"source_hidden": True}} if cell.cell_type == "code" else {}
    return {"deletable": False, "editable": False, **folded, **kept}


def locked(path: Path) -> None:
    """Lock the cells of one notebook and fold its code, and write it back."""
    book = nbformat.read(path, as_version=4)
    for cell in book.cells:
        cell.metadata = nbformat.from_dict(metadata(cell))
    nbformat.write(book, path)


def executed(path: Path) -> None:
    """Run one notebook in its own folder and write it back."""
    book = nbformat.read(path, as_version=4)
    for number, cell in enumerate(book.cells, 1):
        cell["id"] = f"c{number:02d}"  # short and steady, so that a diff shows only what changed
        cell.metadata = nbformat.from_dict(metadata(cell))
        if cell.cell_type == "code":
            cell.outputs, cell.execution_count = [], None
    NotebookClient(book, timeout=120, kernel_name="python3", resources={"metadata": {"path": str(path.parent)}}).execute()
    for cell in book.cells:
        cell.metadata.pop("execution", None)
        for output in cell.get("outputs", []):
            output.get("data", {}).pop(LIVE, None)
    book.metadata = {
        "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
        "language_info": {"name": "python"},
    }
    nbformat.write(book, path)


if __name__ == "__main__":
    only_lock = "--lock" in sys.argv
    for name in [name for name in sys.argv[1:] if name != "--lock"]:
        (locked if only_lock else executed)(Path(name))
        print(name)
