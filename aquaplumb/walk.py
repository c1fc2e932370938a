"""The walk in a folder of the learner's own: copied there, never over their changes, and opened in JupyterLab."""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

from aquaplumb.tables import folder as packaged
from aquaplumb.units import DesignError

_RECORD = ".aquaplumb-copied.json"  # what we copied, so that we know a file the learner has changed since


def copy_walk(folder: Path) -> list[str]:
    """Copy the notebooks to a folder; a file that the learner has changed is left as it is.

    Parameters
    ----------
    folder : Path
        Made where it is not there yet.

    Returns
    -------
    list of str
        What was done, a sentence each.

    Raises
    ------
    DesignError
        Where the folder cannot be written.

    Source: none; it copies files.

    Examples
    --------
    >>> import tempfile
    >>> print(copy_walk(Path(tempfile.mkdtemp()) / "walk")[0].split(" to ")[0])   # doctest: +ELLIPSIS
    Copied ...
    """
    if folder.is_file():
        raise DesignError(f"{folder} is a file, not a folder. Name another folder: python -m aquaplumb open FOLDER.")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        record = _read_record(folder / _RECORD)
        copied, kept = [], []
        for source in sorted(packaged("notebooks").rglob("*")):
            name = source.relative_to(packaged("notebooks")).as_posix()
            if not source.is_file() or any(part.startswith(".") for part in Path(name).parts) or source.suffix not in _CARRIED:
                continue
            target, fresh = folder / name, _digest(source)
            if target.exists() and _digest(target) not in (record.get(name), fresh):
                kept.append(name)
                continue
            if not target.exists() or _digest(target) != fresh:
                target.parent.mkdir(parents=True, exist_ok=True)
                shutil.copyfile(source, target)
                copied.append(name)
            record[name] = fresh
        (folder / _RECORD).write_text(json.dumps(record, indent=1), encoding="utf-8")
    except OSError as wrong:
        raise DesignError(f"{folder} cannot be used: {wrong.strerror}. Name another folder: python -m aquaplumb open FOLDER.") from None
    many = f"{len(copied)} file{'s' * (len(copied) != 1)}"
    said = [f"Copied {many} to {folder.resolve()}." if copied else f"{folder.resolve()} is up to date."]
    if kept:
        said.append(f"Left alone, since you changed them: {', '.join(kept)}.")
    return said


_CARRIED = {".ipynb", ".md", ".csv", ".toml"}


def _read_record(path: Path) -> dict:
    try:
        record = json.loads(path.read_text(encoding="utf-8"))
        return record if isinstance(record, dict) else {}
    except (OSError, ValueError):
        return {}


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def open_lab(folder: Path) -> int:
    """Open JupyterLab in a folder, and stay until it is closed; returns its exit code.

    Source: none; it starts a program.
    """
    if importlib.util.find_spec("jupyterlab") is None:
        raise DesignError('JupyterLab is not installed here; run: pip install "aquaplumb[workshop]"')
    print("Opening JupyterLab; close it with Ctrl+C here.")
    first = next(iter(sorted(p.name for p in folder.glob("*.ipynb"))), "")
    command = [sys.executable, "-m", "jupyterlab", f"--ServerApp.root_dir={folder.resolve()}"]
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        command.append("--allow-root")  # in a container there is no other user
    if first:
        command.append(f"--LabApp.default_url=/lab/tree/{first}")
    try:
        return subprocess.run(command, check=False).returncode
    except KeyboardInterrupt:
        return 0
