"""What is kept and written: odd changes, odd places, kills, full disks, odd surroundings and another person of the same machine."""

from __future__ import annotations

import contextlib
import io
import os
import signal
import sys
import tempfile
import time
from collections.abc import Callable, Iterable
from functools import partial
from pathlib import Path

from aquaplumb.__main__ import main
from aquaplumb.build import load
from aquaplumb.questions import learner
from aquaplumb.units import DesignError, u
from aquaplumb.workshop.parts import own_prices, parts_list
from corpus import RIGHT, SENTENCE, Case

YARD = load("courtyard").text
EITHER, REFUSED, TAKEN = (RIGHT, SENTENCE), (SENTENCE,), (RIGHT,)
PUMP, BETTER = ("lines", "riser", "pump"), "demo mains 80 W submersible"
_FORKS = hasattr(os, "fork")


def mine(folder: Path):
    """The courtyard as a file of one's own, with a word beside a value."""
    (folder / "mine.toml").write_text("# my own words\n" + YARD, encoding="utf-8")
    return load(folder / "mine.toml")


# --- keep -----------------------------------------------------------------------------------------

_CHANGES = {
    "a pump": ({PUMP: BETTER}, TAKEN), "a quantity": ({("vessels", "bed 1", "floor"): 0.61 * u.m}, TAKEN),
    "as text": ({("vessels", "bed 1", "floor"): "61 cm"}, TAKEN), "with dots": ({"vessels.fish tank.floor": "0.1 m"}, TAKEN), "nothing": ({}, TAKEN), "a strange pump": ({PUMP: "no such pump"}, REFUSED),
    "a strange key": ({("vessels", "bed 1", "colour"): "red"}, REFUSED), "a strange section": ({("colours", "bed"): "red"}, REFUSED), "a bare number": ({("vessels", "bed 1", "floor"): 3}, REFUSED),
    "a wrong unit": ({("vessels", "bed 1", "floor"): "3 kg"}, REFUSED), "a list": ({("vessels", "bed 1", "floor"): [1]}, REFUSED), "a table": ({("vessels", "bed 1"): {"a": 1}}, REFUSED),
    "an object": ({PUMP: object()}, REFUSED), "a class": ({PUMP: dict}, REFUSED), "bytes": ({PUMP: b"x"}, REFUSED), "nan": ({("fish", "protein"): float("nan")}, REFUSED),
    "no end": ({("vessels", "bed 1", "floor"): float("inf") * u.m}, REFUSED), "400 digits": ({("fish", "protein"): 10**400}, REFUSED), "an array": ({("vessels", "bed 1", "floor"): [1, 2] * u.m}, REFUSED),
    "taken away": ({("vessels", "bed 1", "kind"): None}, REFUSED), "a whole away": ({("vessels", "fish tank"): None}, REFUSED), "no path": ({(): 1}, REFUSED), "a number for a path": ({3: 1}, REFUSED),
    "None for a path": ({None: 1}, REFUSED), "a blank path": ({"": 1}, REFUSED), "a deep path": ({tuple("abcdefghij" * 5): 1}, REFUSED), "a place beyond": ({("lines", "riser", "pipe", 99, "length"): "1 m"}, REFUSED),
    "below a value": ({("vessels", "bed 1", "floor", "x"): "1 m"}, REFUSED), "lines in it": ({("title",): "a\nb = 1\n[vessels]"}, TAKEN), "quotes in it": ({("title",): 'a"b\'"""c'}, TAKEN),
    "escape codes": ({("title",): "\x1b[2J"}, TAKEN), "100,000 letters": ({("title",): "x" * 100_000}, TAKEN), "2 MB": ({("title",): "x" * 2_000_000}, REFUSED), "half a letter": ({("title",): "\ud800"}, REFUSED),
    "a null": ({("title",): "a\0b"}, TAKEN), "true": ({("fish", "protein"): True}, REFUSED), "complex": ({("fish", "protein"): 1j}, REFUSED), "no changes": (None, REFUSED), "a list of changes": ([1], REFUSED),
    "text for changes": ("vessels", REFUSED),
}  # fmt: skip


def _kept(changes, folder: Path):
    build = mine(folder)
    before = (folder / "mine.toml").read_bytes()
    try:
        build.keep(changes)
    except DesignError:
        assert (folder / "mine.toml").read_bytes() == before, "refused, and saved all the same"
        raise
    finally:
        assert [one.name for one in folder.iterdir()] == ["mine.toml"], "litter"
    again = load(folder / "mine.toml")
    assert again.text.startswith("# my own words\n") and again.vessels.keys() == build.vessels.keys(), "lost"


def keep() -> Iterable[Case]:
    """Odd changes: refused with the file as it was, or kept with its comments."""
    for name, (changes, ends) in _CHANGES.items():
        yield Case("keep", name, partial(_kept, changes), ends)


# --- paths ----------------------------------------------------------------------------------------

_PLACES = [
    "", " ", "\0", "a\0b.toml", "x" * 300 + ".toml", "d/" * 3000 + "x.toml", "..", "/", ".", "/dev/null", "/dev/zero", "none/none/x.toml", "CON", "~", "~/x.toml", "$HOME/x.toml", "file:///etc/passwd",
    "http://example.org/x.toml", "\u202ex.toml", "🐟.toml", "a\nb.toml", "a\tb.toml", "\x1b[2J.toml", "*.toml", "x.toml ", "x.toml/", "-", "/proc/self/mem", "/proc/self/environ", "\udcff.toml", "x.exe", ".toml", "x", "'",
]  # fmt: skip


def command(arguments: list[str], folder: Path) -> tuple[int, str, str]:
    """(exit code, what is printed, what is said) of a command in a folder, in this process."""
    out, said, before = io.StringIO(), io.StringIO(), os.getcwd()
    os.chdir(folder)
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(said):
            try:
                code = main(arguments)
            except SystemExit as wrong:  # the reader of arguments
                code = wrong.code
    finally:
        os.chdir(before)
    return int(code or 0), out.getvalue(), said.getvalue()


def _at(arguments: list[str], folder: Path):
    code, out, said = command(arguments, folder)
    if "usage:" in said:
        return
    assert code == 2 and out == "" and said.endswith("\n"), (code, out[:100], said[:300])
    assert list(folder.iterdir()) == [], "litter"
    raise DesignError(said[:-1]) if said[:-1].isprintable() else AssertionError(f"it is not one clean line: {said!r:.300}")


def paths() -> Iterable[Case]:
    """Odd names where a build, a log, prices and what is written are named."""
    for place in _PLACES:
        for arguments in (
            ["review", place],
            ["compare", "courtyard", place],
            ["log", "courtyard", place],
            ["log", place],
            ["paper", "--build", place, "06"],
        ):
            yield Case("paths", f"{' '.join(arguments)!a:.60}", partial(_at, arguments), EITHER)
    for place in (
        "",
        "\0",
        "x" * 300 + ".html",
        "none/none/sheet.html",
        "/proc/sheet.html",
        "sheet.exe",
        "/dev/full",
        "\x1b.doc",
        ".",
        "/",
    ):
        yield Case("paths", f"sheet -o {place!a:.40}", partial(_at, ["sheet", "courtyard", "-o", place]), REFUSED)


# --- kills and full disks -----------------------------------------------------------------------------


def _child(work: Callable[[], object], *, kill_after: float | None = None) -> tuple[int, str]:
    """(how it ended, what it said) of work in a process of its own: 0 done, 1 refused in a sentence, 2 a fault, −9 killed."""
    inside, outside = os.pipe()
    child = os.fork()
    if not child:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        code, said = 0, ""
        try:
            work()
        except DesignError as wrong:
            code, said = 1, str(wrong)
        except BaseException as fault:
            code, said = 2, f"{type(fault).__name__}: {fault}"
        os.write(outside, said.encode(errors="replace")[:4000])
        os._exit(code)
    os.close(outside)
    if kill_after is not None:
        time.sleep(kill_after)
        os.kill(child, signal.SIGKILL)
    with os.fdopen(inside, "rb") as pipe:
        said = pipe.read().decode()
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), said


def _ended(work, **more) -> None:
    """Raise in this process what the other ended with."""
    code, said = _child(work, **more)
    if code == 1:
        raise DesignError(said)
    assert code in (0, -signal.SIGKILL), said


def _killed(after: float, folder: Path):
    build = mine(folder)
    two = (BETTER, build.lines["riser"].si.pump)

    def forever():
        now = build
        while True:
            for pump in two:
                now = now.keep({PUMP: pump})

    _ended(forever, kill_after=after)
    again = load(folder / "mine.toml")
    assert again.lines["riser"].si.pump in two and again.text.startswith("# my own words\n"), "lost"
    for one in folder.iterdir():
        os.utime(one, (0, 0))  # as if some time had passed
    again.keep({PUMP: two[0]})
    assert [one.name for one in folder.iterdir()] == ["mine.toml"], "litter"


def _writers(folder: Path) -> dict[str, tuple[Path, Callable[[], object]]]:
    build = mine(folder)
    return {
        "a build": (folder / "mine.toml", lambda: build.keep({PUMP: BETTER})),
        "prices": (folder / "prices.csv", lambda: own_prices.save_form(folder / "prices.csv", "what,size\n" * 900)),
        "a name": (folder / learner.FILE, lambda: learner.remember("Ada")),
        "parts": (folder / "form.csv", lambda: parts_list(build).price_form(folder / "form.csv")),
    }


def _full(what: str, room: int, folder: Path):
    """With room for so many bytes in any file, as on a full disk."""
    import resource

    file, work = _writers(folder)[what]
    before = file.read_bytes() if file.exists() else None

    def short():
        os.chdir(folder)
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (room, room))
        said = work()
        assert what != "a name" or room > 4 or "no file can be written" in said, said

    try:
        _ended(short)
    except DesignError:
        assert (file.read_bytes() if file.exists() else None) == before, "the old file is gone"
        raise
    finally:
        assert {one.name for one in folder.iterdir()} <= {"mine.toml", file.name}, "litter"


def kills() -> Iterable[Case]:
    """A keep that is killed again and again, and files that a full disk stops."""
    if not _FORKS:
        return
    for after in range(1, 41):
        yield Case("kills, full disks", f"killed after {5 * after} ms", partial(_killed, 0.005 * after), TAKEN)
    for what in ("a build", "prices", "a name", "parts"):
        for room in (0, 1, 100, 4096):
            short = {"a build": 6000, "prices": 9000, "a name": 0, "parts": 500}[what] > room
            yield Case(
                "kills, full disks",
                f"{what}, room for {room} bytes",
                partial(_full, what, room),
                EITHER if what in ("a name", "parts") or not short else REFUSED,
            )


# --- surroundings -----------------------------------------------------------------------------------


def _around(change: Callable[[], object], arguments: list[str], folder: Path):
    os.chmod(folder, 0o755)

    def work():
        os.chdir(folder)
        sys.stdout = sys.stderr = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
        change()
        code = main(arguments)
        sys.stderr.flush()
        said = sys.stderr.buffer.getvalue().decode("ascii")
        assert code in (0, 1, 2) and "Traceback" not in said, said
        if code == 2:
            raise DesignError(said.splitlines()[-1])

    _ended(work)


def _gone():
    os.mkdir("gone")
    os.chdir("gone")
    os.rmdir("../gone")


def _without(*names: str):
    for name in names:
        os.environ.pop(name, None)


def _few_files():
    import resource

    resource.setrlimit(resource.RLIMIT_NOFILE, (16, 16))


def surroundings() -> Iterable[Case]:
    """No home folder, another locale, a terminal that knows no letters, a folder that is gone or shut, few open files."""
    if not _FORKS:
        return
    changes = {
        "no home": partial(_without, "HOME", "USER", "XDG_CACHE_HOME"), "a strange home": lambda: os.environ.update(HOME="/nonexistent"), "a C locale": lambda: os.environ.update(LC_ALL="C", LANG="C"),
        "no variables": lambda: os.environ.clear(), "a dumb terminal": lambda: os.environ.update(TERM="dumb", COLUMNS="1"), "the folder is gone": _gone,
        "a strange clock": lambda: os.environ.update(TZ="Nowhere/Else"), "few open files": _few_files,
    }  # fmt: skip
    for name, change in changes.items():
        for arguments in (
            ["review", "courtyard"],
            ["review", "none.toml"],
            ["compare", "courtyard", "courtyard"],
            ["sheet", "courtyard", "-o", "none/sheet.html"],
        ):
            yield Case("surroundings", f"{name}: {' '.join(arguments)}", partial(_around, change, arguments), EITHER)


# --- another user -----------------------------------------------------------------------------------

_NOBODY = 65534


def _other(owner: int, mode: int, folder_mode: int, _folder: Path):
    with tempfile.TemporaryDirectory() as place:  # that of the test lies in one that others cannot enter
        _others(owner, mode, folder_mode, Path(place))


def _others(owner: int, mode: int, folder_mode: int, folder: Path):
    build, file = mine(folder), folder / "mine.toml"
    os.chmod(file, mode)
    os.chmod(folder, folder_mode)
    if owner:
        os.chown(file, _NOBODY, _NOBODY)
    before = file.read_bytes()

    def work():
        os.setgroups([])
        os.setgid(_NOBODY)
        os.setuid(_NOBODY)
        os.chdir(folder)
        build.keep({PUMP: BETTER})

    try:
        _ended(work)
    except DesignError:
        assert file.read_bytes() == before, "refused, and saved all the same"
        raise
    else:
        assert file.read_bytes() != before, "not kept"
        assert file.stat().st_mode & 0o777 == mode, "others may do with it now what they could not"
    finally:
        os.chmod(folder, 0o700)
        assert [one.name for one in folder.iterdir()] == ["mine.toml"], "litter"


def another_user() -> Iterable[Case]:
    """A second person of the same machine keeps in a folder that is theirs to write, and is refused elsewhere. Only root can become another."""
    if not _FORKS or os.geteuid():
        return
    for owner in (0, 1):
        for mode in (0o644, 0o600, 0o666, 0o444):
            for folder_mode in (0o777, 0o755, 0o711):
                yield Case(
                    "another user",
                    f"{'its own' if owner else 'another one’s'} file {mode:o} in {folder_mode:o}",
                    partial(_other, owner, mode, folder_mode),
                    EITHER if folder_mode == 0o777 else REFUSED,
                )


GROUPS = {
    "keep": (keep, 45),
    "paths": (paths, 70),
    "kills, full disks": (kills, 26),
    "surroundings": (surroundings, 12),
    "another user": (another_user, 12),
}
