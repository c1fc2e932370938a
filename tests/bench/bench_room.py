"""A room of learners on one machine: ``python tests/bench/bench_room.py --learners 10 --plain``.

Each learner is a websocket client that does what a browser does (`tests/room_browser.py`): all open one page at once, each moves a
slider every two seconds, all press Keep at once, one kernel is killed. It prints a table; `--plain` measures the same page on a
Voilà without the room, a kernel started for each page. Clients run on the same cores as what they measure. Only this machine
itself is asked, and it ends by itself.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import re
import shutil
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent))

from room_browser import RoomBrowser  # noqa: E402

CHECKOUT = HERE.parents[1]
BOOK = "08-pump-choice.ipynb"
AIMS = {"first": 15, "median": 5, "memory": 3.0, "within": 95, "move": 500, "again": 5}


def tell(what: str, found: str, aim: str = "") -> None:
    print(f"| {what:<58} | {found:>22} | {aim:>12} |", flush=True)


def family(pid: int) -> list[int]:
    """A process and all that came from it."""
    parents = {}
    for place in Path("/proc").glob("[0-9]*"):
        try:
            parents[int(place.name)] = int((place / "stat").read_text().rsplit(")", 1)[1].split()[1])
        except OSError:
            continue
    found = [pid]
    for one in found:
        found += [child for child, parent in parents.items() if parent == one]
    return found


def memory(pid: int) -> float:
    """What a process and its children hold together, shared parts counted once [GB]."""
    total = 0
    for one in family(pid):
        try:
            total += int(re.search(r"(?m)^Pss:\s+(\d+)", Path(f"/proc/{one}/smaps_rollup").read_text())[1])
        except (OSError, TypeError):
            continue
    return total / 1e6


def processor(pid: int) -> float:
    """Processor time of a process alone [s]."""
    parts = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(parts[11]) + int(parts[12])) / os.sysconf("SC_CLK_TCK")


async def first_pictures(browsers: list[RoomBrowser]) -> list[float]:
    """All open the page at once; the seconds until each has its widgets, the first picture among them."""

    async def one(browser: RoomBrowser) -> float:
        start = time.monotonic()
        await browser.page(BOOK)
        await browser.connect()
        await browser.widgets()
        return time.monotonic() - start

    return await asyncio.gather(*map(one, browsers))


async def moves(browsers: list[RoomBrowser], seconds: float) -> list[float]:
    """Each moves a slider every two seconds; what each move took [ms]."""
    until, taken = time.monotonic() + seconds, []

    async def one(place: int, browser: RoomBrowser) -> None:
        await asyncio.sleep(2 * place / len(browsers))
        ident = browser.find("FloatSliderModel")
        low, high = (browser.states[ident]["state"][end] for end in ("min", "max"))
        turn = 0
        while time.monotonic() < until:
            start = time.monotonic()
            took, changed = await browser.move(ident, value=low + (high - low) * (0.2 + 0.6 * (turn % 7) / 7))
            if turn and not any("<img" in str(one.get("value", "")) for one in changed):
                raise AssertionError("a move brought no picture")
            taken.append(1000 * took)
            turn += 1
            await asyncio.sleep(max(0.0, 2 - (time.monotonic() - start)))

    await asyncio.gather(*(one(place, browser) for place, browser in enumerate(browsers)))
    return taken


async def watched(pid: int, seconds: float) -> list[float]:
    """The memory of a process and its children at the beginning and after each quarter of a time."""
    held = [memory(pid)]
    for _ in range(4):
        await asyncio.sleep(seconds / 4)
        held.append(memory(pid))
    return held


def served(command: list[str], folder: Path, word: str) -> tuple[subprocess.Popen, str]:
    """A server, and what it has said once it is ready."""
    said = folder / "said.txt"
    env = {**os.environ, "PYTHONPATH": str(CHECKOUT), "OPENBLAS_NUM_THREADS": "1", "PYTHONUNBUFFERED": "1"}
    with said.open("w") as out:
        server = subprocess.Popen([sys.executable, "-m", *command], cwd=folder, stdout=out, stderr=out, env=env)
    while word not in said.read_text(errors="replace"):
        if server.poll() is not None:
            raise SystemExit(said.read_text(errors="replace"))
        time.sleep(0.1)
    return server, said.read_text(errors="replace")


def settle(pid: int) -> None:
    """Wait until a process has nothing left to do: the room's first draws what all pages share, before the learners come."""
    spent = -1.0
    while spent < (spent := processor(pid)):
        time.sleep(1)


async def room(learners: int, seconds: float, own: bool) -> None:
    """The room's table."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        start = time.monotonic()
        server, said = served(["aquaplumb", "room", "r", "--no-browser", "--address", "127.0.0.1", "--port", "0"], folder, "The board")
        tell("the room is ready after", f"{time.monotonic() - start:.1f} s")
        settle(family(server.pid)[1])
        tell("… and has drawn what all share after", f"{time.monotonic() - start:.1f} s")
        address = re.search(r"(http://\S+?)/teacher", said)[1].replace("localhost", "127.0.0.1")
        code = re.search(r"C O D E([\d ]+)", said)[1].replace(" ", "")
        browsers = [RoomBrowser(address) for _ in range(learners)]
        try:
            for number, browser in enumerate(browsers):
                assert (await browser.join(code, f"learner {number}")).code == 302
                if own:
                    (next((folder / "r").glob(f"learner-{number}-*")) / "my-build.toml").write_text(another(number))
            before, own_time = processor(server.pid), time.process_time()
            report(await first_pictures(browsers))
            report_processor(processor(server.pid) - before, family(server.pid)[2:])
            tell("… and the clients', on the same cores, of all pages", f"{time.process_time() - own_time:.1f} s")
            tell("memory in all, shared parts counted once", f"{memory(server.pid):.2f} GB", f"{AIMS['memory']} GB")
            held = asyncio.create_task(watched(server.pid, seconds))
            report_moves(await moves(browsers, seconds))
            tell("… memory at each quarter of that time", " ".join(f"{one:.2f}" for one in await held) + " GB")
            before = memory(server.pid)
            kept = [browser.press(browser.find("ButtonModel", description="Keep this pump in my build")) for browser in browsers]
            start = time.monotonic()
            await asyncio.gather(*kept)
            files = list((folder / "r").glob("*/my-build.toml"))
            tell(
                f"{learners} Keeps at once, in {time.monotonic() - start:.1f} s: builds that can be read",
                f"{whole(files)} of {learners}",
                "all",
            )
            await killed(browsers, server.pid)
            tell("memory after it", f"{memory(server.pid):.2f} GB, {memory(server.pid) - before:+.2f}")
        finally:
            for browser in browsers:
                browser.close()
            server.send_signal(signal.SIGINT)
            server.wait(60)


def another(number: int) -> str:
    """The text of a build of one's own: the demo's with a few more fish."""
    from aquaplumb.build import load

    return load("courtyard").changed({"fish.density": f"{18 + number / 10} kg/m3"}).text


def whole(files: list[Path]) -> int:
    """How many builds can be read and worked out."""
    from aquaplumb.build import load

    return sum(bool(load(file)) for file in files)


async def killed(browsers: list[RoomBrowser], server: int) -> None:
    """One learner's kernel is killed; how long until the same learner has the page again, and who else noticed."""
    for pid in family(server):
        try:
            folder = os.readlink(f"/proc/{pid}/cwd")
        except OSError:
            continue
        if "learner-0-" in folder:
            os.kill(pid, signal.SIGKILL)
            break
    start = time.monotonic()
    victim, old = browsers[0], browsers[0].kernel
    while (await victim.fetch(f"/api/kernels/{old}")).code == 200 and time.monotonic() - start < 1:
        await asyncio.sleep(0.05)
    await victim.page(BOOK)
    await victim.connect()
    await victim.widgets()
    tell("a kernel killed: the same learner has the page again after", f"{time.monotonic() - start:.1f} s", f"{AIMS['again']} s")
    assert victim.kernel != old
    others = [
        browser.move(browser.find("FloatSliderModel"), value=browser.states[browser.find("FloatSliderModel")]["state"]["min"])
        for browser in browsers[1:]
    ]
    answered = await asyncio.gather(*others, return_exceptions=True)
    tell("… others whose page did not answer", str(sum(isinstance(one, Exception) for one in answered)), "0")


def report(taken: list[float]) -> None:
    tell(f"{len(taken)} pages at once: the last first picture after", f"{max(taken):.1f} s", f"{AIMS['first']} s")
    tell("… the median", f"{statistics.median(taken):.1f} s", f"{AIMS['median']} s")


def report_processor(server: float, kernels: list[int]) -> None:
    tell(
        "… processor time of a page: the server's, its kernel's",
        f"{server / len(kernels):.2f} s, {statistics.mean(map(processor, kernels)):.2f} s",
    )


def report_moves(taken: list[float]) -> None:
    within = 100 * sum(one <= AIMS["move"] for one in taken) / len(taken)
    tell(f"{len(taken)} moves of a slider: answered within {AIMS['move']} ms", f"{within:.0f} %", f"{AIMS['within']} %")
    tell("… the median, and 95 of 100 within", f"{statistics.median(taken):.0f}, {sorted(taken)[int(0.95 * (len(taken) - 1))]:.0f} ms")


async def plain(learners: int, seconds: float) -> None:
    """The same page on a Voilà as it comes, a kernel started for each."""
    with tempfile.TemporaryDirectory() as place, socket.socket() as free:
        folder = Path(place)
        shutil.copy(CHECKOUT / "notebooks" / BOOK, folder)
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
        free.close()
        server, _ = served(["voila", ".", "--no-browser", f"--port={port}", "--Voila.ip=127.0.0.1"], folder, "is running at")
        browsers = [RoomBrowser(f"http://127.0.0.1:{port}") for _ in range(learners)]
        try:
            before = processor(server.pid)
            report(await first_pictures(browsers))
            report_processor(processor(server.pid) - before, family(server.pid)[1:])
            tell("memory in all, shared parts counted once", f"{memory(server.pid):.2f} GB", f"{AIMS['memory']} GB")
            report_moves(await moves(browsers, seconds))
        finally:
            for browser in browsers:
                browser.close()
            server.terminate()
            server.wait(60)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--learners", type=int, default=10)
    parser.add_argument("--seconds", type=float, default=30, help="of moving sliders")
    parser.add_argument("--own", action="store_true", help="each learner has a build of their own, not yet the demo")
    parser.add_argument("--plain", action="store_true", help="a Voilà without the room as well")
    asked = parser.parse_args()
    print(f"{asked.learners} learners on {os.cpu_count()} cores; load before it {os.getloadavg()[0]:.1f}")
    tell("in a room", "found", "aim")
    asyncio.run(room(min(asked.learners, 100), min(asked.seconds, 4000), asked.own))
    if asked.plain:
        tell("on a plain Voilà", "found", "aim")
        asyncio.run(plain(min(asked.learners, 30), min(asked.seconds, 600)))
