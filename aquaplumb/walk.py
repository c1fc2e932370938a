"""The walk in a folder of the learner's own: copied there, never over their changes, and opened in JupyterLab."""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import secrets
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from aquaplumb.files import write
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
        copied, kept, again = [], [], {}
        for source in sorted(packaged("notebooks").rglob("*")):
            name = source.relative_to(packaged("notebooks")).as_posix()
            if not source.is_file() or any(part.startswith(".") for part in Path(name).parts) or source.suffix not in _CARRIED:
                continue
            target, fresh = folder / name, _digest(source)
            if target.exists() and _digest(target) not in (*_ours(record.get(name)), fresh) and not _cut_off(target, source):
                kept.append(name)
                continue
            if not target.exists() or _digest(target) != fresh:
                again[name] = source
            record[name] = [*_ours(record.get(name)), fresh] if name in again else fresh
        if again:
            _write_record(folder, record)  # killed from here on, a copy of either version is still ours
        for name, source in again.items():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            write(folder / name, source.read_bytes())
            record[name] = _digest(source)
            copied.append(name)
        _write_record(folder, record)
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


def _write_record(folder: Path, record: dict) -> None:
    write(folder / _RECORD, json.dumps(record, indent=1))


def _ours(marks) -> list[str]:
    """The fingerprints of one file that we copied: of two versions, where a copying was stopped between them."""
    return marks if isinstance(marks, list) else [marks]


def _cut_off(target: Path, source: Path) -> bool:
    """Whether a notebook is the mere beginning of ours, which no Jupyter opens: what a copying that was stopped has left."""
    return target.suffix == ".ipynb" and source.read_bytes().startswith(target.read_bytes())


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def open_lab(folder: Path) -> int:
    """Open the first page in JupyterLab, and stay until it is closed; returns its exit code.

    One document is in view, without the list of files. What the server says of itself goes to a file.

    Source: none; it starts a program.
    """
    if importlib.util.find_spec("jupyterlab") is None:
        raise DesignError('JupyterLab is not installed here; run: pip install "aquaplumb[workshop]"')
    first = next(iter(sorted(p.name for p in folder.glob("*.ipynb"))), "")
    page = f"/doc/tree/{first}" if first else "/lab"
    port, token, log = _free_port(), secrets.token_hex(16), folder.resolve() / _LOG
    command = [sys.executable, "-m", "jupyterlab", f"--ServerApp.root_dir={folder.resolve()}", f"--LabApp.default_url={page}",
               f"--ServerApp.port={port}", "--ServerApp.port_retries=0", "--ServerApp.answer_yes=True"]  # fmt: skip
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        command.append("--allow-root")  # in a container there is no other user
    with log.open("w", encoding="utf-8") as told, tempfile.TemporaryDirectory() as quiet:
        server = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=told, stderr=told, env=_environment(Path(quiet), token))
        try:
            if _answers(server, port):
                print(
                    f"Page 00 opens in your browser, or at http://localhost:{port}{page}?token={token} (Ctrl+C here closes it all).",
                    flush=True,
                )
                server.wait()
        except KeyboardInterrupt:
            server.terminate()
            server.wait()
            return 0
    if server.returncode:
        raise DesignError(f"JupyterLab stopped: {_last_words(log)} All that it said is in {log}.")
    return 0


_LOG = ".aquaplumb-server.log"


def _environment(folder: Path, token: str) -> dict[str, str]:
    """Ours, with the token, and with settings in a folder that keep Jupyter's own news from lying over the page."""
    page = folder / "labconfig" / "page_config.json"
    page.parent.mkdir()
    page.write_text(json.dumps({"disabledExtensions": {"@jupyterlab/apputils-extension:announcements": True}}), encoding="utf-8")
    paths = [str(folder), os.environ.get("JUPYTER_CONFIG_PATH", "")]
    return {**os.environ, "JUPYTER_TOKEN": token, "JUPYTER_CONFIG_PATH": os.pathsep.join(filter(None, paths))}


def _free_port() -> int:
    """Jupyter's usual port, or another where that one is taken."""
    for port in (8888, 0):
        with socket.socket() as free:
            try:
                free.bind(("127.0.0.1", port))
            except OSError:
                continue
            return free.getsockname()[1]
    raise DesignError("No port of this machine is free for JupyterLab; close some programs and try again.")


def _answers(server: subprocess.Popen, port: int) -> bool:
    """Wait until the server listens; False where it has stopped instead."""
    while server.poll() is None:
        try:
            with socket.create_connection(("127.0.0.1", port), 1):
                return True
        except OSError:
            time.sleep(0.1)
    return False


def _last_words(log: Path) -> str:
    """The last line that a server has said, as a sentence."""
    lines = log.read_text(encoding="utf-8", errors="replace").strip().splitlines()
    return (lines[-1].strip().rstrip(".") if lines else "it did not say why") + "."
