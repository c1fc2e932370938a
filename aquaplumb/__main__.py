"""The command line: ``python -m aquaplumb review BUILD.toml``, ``… compare OLD.toml NEW.toml``, ``… log BUILD.toml``, ``… sheet BUILD.toml -o sheet.html`` and ``… open [FOLDER]``; for who teaches, ``… room``, ``… key``, ``… paper`` and ``… pages``."""

from __future__ import annotations

import argparse
import contextlib
import datetime
import json
import os
import sys
import threading
from pathlib import Path
from typing import NoReturn

from aquaplumb import __version__

SOUND, TO_MEND, UNREADABLE, STOPPED = 0, 1, 2, 130
_SOON, _STAYS = 2.0, ("open", "room")  # s until work is told to go on; commands that stay until they are stopped
_FILES = ("build", "old", "new", "log", "out", "prices", "folder")  # arguments that name a file or a folder


def main(arguments: list[str] | None = None) -> int:
    """Run one command; returns the exit code."""
    try:
        return _answered(arguments)
    except KeyboardInterrupt:  # whatever is loading or being worked out; what is written is written in one step
        print("Stopped.", file=sys.stderr)
        return STOPPED


def _answered(arguments: list[str] | None) -> int:
    """The exit code of a command, and one sentence where it cannot be done."""
    from aquaplumb.sentences import in_a_line
    from aquaplumb.units import DesignError

    try:
        code = _run(arguments)
        sys.stdout.flush()
        return code
    except DesignError as wrong:
        print(wrong, file=sys.stderr)
    except BrokenPipeError:
        _say_no_more()
        return SOUND
    except OSError as wrong:  # the machine's own word: a full disk, a folder that is not ours
        _say_no_more()
        print(in_a_line(f"{wrong.filename or 'what is printed'} cannot be read or written: {wrong.strerror or wrong}."), file=sys.stderr)
    return UNREADABLE


@contextlib.contextmanager
def _told_to_wait():
    """Say at a terminal, after two seconds, that the work goes on."""
    told = threading.Timer(_SOON, lambda: print("Working it out … (Ctrl+C stops it)", file=sys.stderr, flush=True))
    told.daemon = True
    if sys.stderr.isatty():
        told.start()
    try:
        yield
    finally:
        told.cancel()


def _say_no_more() -> None:
    """Take what is still to be printed out of the way: there is nowhere to print it."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _run(arguments: list[str] | None) -> int:
    parser = argparse.ArgumentParser(
        prog="python -m aquaplumb", description="Plan the water of a small recirculating fish-and-plant system."
    )
    parser.add_argument("--version", action="version", version=__version__)
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")
    seen = commands.add_parser("review", help="print every steady number of a build, and what is wrong with it")
    seen.add_argument("build", metavar="BUILD.toml", help="a build file, or the name of a demo build")
    seen.add_argument("--json", action="store_true", help="print for machines")
    two = commands.add_parser("compare", help="print what differs between two builds, and what that does")
    two.add_argument("old", metavar="OLD.toml", help="the build before: a build file, or the name of a demo build")
    two.add_argument("new", metavar="NEW.toml", help="the build after; numbers are told in its units")
    two.add_argument("--all", action="store_true", help="print every number that moved, not the main ones alone")
    two.add_argument("--json", action="store_true", help="print for machines")
    kept = commands.add_parser("log", help="print what a build's log says, and what to do next")
    kept.add_argument("build", metavar="BUILD.toml", help="a build file that names its log, or the name of a demo build")
    kept.add_argument("log", metavar="LOG.csv", nargs="?", help="another log to read by that build")
    shared = commands.add_parser("siphons", help="print what a build's measured siphons did, as anonymous rows to share")
    shared.add_argument("build", metavar="BUILD.toml", help="a build file with starts or stops in its [measured] section")
    page = commands.add_parser("sheet", help="write a build's sheet for the workshop: findings, drawing, parts, cuts, settings, drills")
    page.add_argument("build", metavar="BUILD.toml", help="a build file, or the name of a demo build")
    page.add_argument(
        "-o",
        "--out",
        metavar="FILE",
        default="sheet.html",
        help="where to: .html, .pdf, .xlsx, or a folder of CSV tables (a name that ends in / or .csv); default %(default)s",
    )
    page.add_argument("--paper", choices=("A4", "letter"), default="", help="for a PDF; else letter for US units and A4 for metric")
    page.add_argument(
        "--prices", metavar="FILE", help="your own prices, a CSV file; where there is none, an empty form is saved to fill in"
    )
    page.add_argument("--start", metavar="DAY", default="", help="the day on which the work begins, such as 2027-03-01, for the calendar")
    page.add_argument("--all", action="store_true", help="print every number with its source too, some pages more")
    page.add_argument("--force", action="store_true", help="replace a file that is no sheet, or that somebody has written in")
    walk = commands.add_parser("open", help="copy the notebooks to a folder of yours and open JupyterLab there")
    walk.add_argument("folder", nargs="?", default="my-aquaplumb", help="where to (default: %(default)s)")
    walk.add_argument("--only-copy", action="store_true", help="copy the notebooks and stop there")
    room = commands.add_parser("room", help="serve the pages to a room of learners on this machine's network, and show the teacher's board")
    room.add_argument("folder", nargs="?", default="my-room", help="where the learners' folders are (default: %(default)s)")
    room.add_argument("--port", type=int, default=8000, help="on which to listen (default: %(default)s)")
    room.add_argument("--address", default="", help="one of this machine's addresses, to be served on that network alone; else all")
    room.add_argument("--no-browser", action="store_true", help="do not open the board here")
    answers = commands.add_parser("key", help="print the answers to a learner's questions, for whoever teaches")
    answers.add_argument("-o", "--out", metavar="FILE.html", help="write a page to print instead")
    copied = commands.add_parser("paper", help="write each page for paper, with lines to write on and without answers")
    copied.add_argument("-o", "--out", metavar="FOLDER", default="paper", help="where to (default: %(default)s)")
    copied.add_argument("--build", metavar="BUILD.toml", help="a build whose numbers the pages show; else the demo's")
    read = commands.add_parser(
        "pages", help="write the walk as a folder of plain pages, to read and to check oneself without a kernel or a network"
    )
    read.add_argument("out", metavar="FOLDER", nargs="?", default="pages", help="where to (default: %(default)s)")
    read.add_argument("--build", metavar="BUILD.toml", help="a build whose numbers the pages show; else the demo's")
    read.add_argument("--pdf", action="store_true", help="all of it in one PDF for paper as well; needs Chromium, Chrome or Edge")
    for command in (answers, copied, read):
        if command is not read:
            command.add_argument("pages", metavar="PAGE", nargs="*", help="numbers of pages, such as 06 08; else all")
            command.add_argument("--name", default="", help="the learner's name, which draws the numbers of the questions")
        command.add_argument("--units", default="", help="metric or US")
        command.add_argument("--paper", choices=("A4", "letter"), default="", help="else letter for US units and A4 for metric")
        command.add_argument("--force", action="store_true", help="replace a file that somebody has written in")
    asked = parser.parse_args(arguments)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # a Windows console may not know every letter: never fail on one
            stream.reconfigure(errors="replace")
    if asked.command is None:
        parser.print_help()
        return SOUND
    from aquaplumb.files import named_file

    for name in _FILES:
        if (given := getattr(asked, name, None)) is not None:
            named_file(given)
    with contextlib.nullcontext() if asked.command in _STAYS else _told_to_wait():
        return _done(asked)


def _done(asked: argparse.Namespace) -> int:
    """Do what is asked; returns the exit code."""
    if asked.command == "review":
        return _review(asked.build, asked.json)
    if asked.command == "compare":
        return _compare(asked.old, asked.new, asked.json, asked.all)
    if asked.command == "log":
        return _log(asked.build, asked.log)
    if asked.command == "siphons":
        return _siphons(asked.build)
    if asked.command == "sheet":
        return _sheet(asked.build, asked.out, asked.paper, asked.force, asked.prices, asked.start, asked.all)
    if asked.command == "key":
        return _key(asked)
    if asked.command == "paper":
        return _paper(asked)
    if asked.command == "pages":
        return _pages(asked)
    if asked.command == "room":
        from aquaplumb.classroom.running import run

        return run(Path(asked.folder), port=asked.port, address=asked.address, browser=not asked.no_browser)
    return _open(Path(asked.folder), asked.only_copy)


def _review(build: str, as_json: bool) -> int:
    from aquaplumb.review import review
    from aquaplumb.sentences import escaped, plain

    seen = review(build)
    print(escaped(seen.as_json()) if as_json else plain(str(seen)))
    return SOUND if seen.sound else TO_MEND


def _compare(old: str, new: str, as_json: bool, everything: bool) -> int:
    from aquaplumb.review.compare import comparison
    from aquaplumb.sentences import escaped, plain

    seen = comparison(old, new)
    print(escaped(json.dumps(seen.as_dict(), indent=2, ensure_ascii=False)) if as_json else plain(seen.text(everything=everything)))
    return SOUND if seen.new.sound else TO_MEND


def _log(build: str, log: str | None) -> int:
    from aquaplumb.build import load
    from aquaplumb.review.readings import own_log, read, steps, summary
    from aquaplumb.sentences import plain

    mine = load(build)
    kept = own_log(mine) if log is None else read(log)
    told = steps(kept, mine)
    print(plain(f"{summary(kept)}\n\n{told.text(len(told.asked))}"))
    return TO_MEND if told.pressing else SOUND


def _siphons(build: str) -> int:
    from aquaplumb.measured.export import siphon_rows

    print(siphon_rows(build), end="")
    return SOUND


def _sheet(build: str, out: str, paper: str, force: bool, prices: str | None, start: str, whole: bool) -> int:
    from aquaplumb.sentences import in_a_line
    from aquaplumb.workshop.sheet.saving import saved, target

    target(out, force=force)  # refused before the work begins
    from aquaplumb.workshop.sheet import sheet

    if prices and not Path(prices).exists():
        from aquaplumb.workshop.parts import parts_list

        parts_list(build).price_form(prices)
        print(in_a_line(f"Saved: {prices}, an empty form. Fill in what your shop asks, and write the sheet anew."))
        prices = None
    made = sheet(build, prices=prices, dated=f"{datetime.date.today():%Y-%m-%d}", start=start, whole=whole)
    print(in_a_line(saved(made, out, paper=paper, force=force)))
    print(in_a_line(f"{made.title}: {made.verdict}."))
    return SOUND if made.sound else TO_MEND


def _key(asked: argparse.Namespace) -> int:
    from aquaplumb.teaching.key import key
    from aquaplumb.teaching.printing import page_file, written

    place = page_file(asked.out) if asked.out else None
    made = key(asked.pages, learner=asked.name, units=asked.units or "metric")
    if place is None:
        print(made.text())
    else:
        written(place.parent, {place.name: made.html(asked.paper)}, force=asked.force)
        print(f"Written: {place.name}; open it in any browser, and print it from there.")
    return SOUND


def _paper(asked: argparse.Namespace) -> int:
    from aquaplumb.build import load
    from aquaplumb.teaching.copies import copies
    from aquaplumb.teaching.printing import written

    if asked.build:
        load(asked.build)  # refused before the work begins
    if asked.build or asked.units:
        print("The pages run for these numbers first, which takes about ten seconds for each.", flush=True)
    made = copies(asked.pages, build=asked.build, learner=asked.name, units=asked.units, paper=asked.paper)
    written(Path(asked.out), made, force=asked.force)
    print(
        f"Written: {len(made)} page{'s' * (len(made) != 1)} in the folder {Path(asked.out).name}; open them in any browser, and print them from there."
    )
    return SOUND


def _pages(asked: argparse.Namespace) -> int:
    from aquaplumb.build import load
    from aquaplumb.sentences import in_a_line
    from aquaplumb.teaching.pages import system
    from aquaplumb.teaching.plain import INDEX, WALK_PDF, Walk
    from aquaplumb.teaching.printing import free, written

    if asked.build:
        load(asked.build)  # refused before the work begins
    if asked.units:
        system(asked.units)
    folder = Path(asked.out)
    free(folder, [INDEX, *([WALK_PDF] if asked.pdf else [])], force=asked.force)
    if asked.pdf:
        from aquaplumb.workshop.sheet.pdf import browser, printed

        browser()
    if asked.build or asked.units:
        print("The pages run for these numbers first, which takes about ten seconds for each.", flush=True)
    walk = Walk(asked.build, asked.units)
    made: dict[str, str | bytes] = dict(walk.files())
    if asked.pdf:
        made[WALK_PDF] = printed(walk.on_paper(asked.paper))
    written(folder, made, force=asked.force)
    print(in_a_line(f"Written: {len(made)} files in the folder {folder.name}; open its {INDEX} in any browser."))
    return SOUND


def _open(folder: Path, only_copy: bool) -> int:
    from aquaplumb.sentences import in_a_line
    from aquaplumb.walk import copy_walk, open_lab

    for line in copy_walk(folder):
        print(in_a_line(line))
    return SOUND if only_copy else open_lab(folder)


def command() -> NoReturn:
    """`main`, as it is typed. What was stopped ends at once: a library that was stopped while it loads may not bear being taken down."""
    code = main()
    if code == STOPPED:
        with contextlib.suppress(OSError, ValueError):
            sys.stdout.flush()
            sys.stderr.flush()
        os._exit(code)
    sys.exit(code)


if __name__ == "__main__":
    command()
