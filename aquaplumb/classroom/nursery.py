"""Where the room's kernels come from: forked off one warmed process, or where the system cannot fork, taken from a few that wait."""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import IO, Any

from jupyter_client.provisioning.local_provisioner import LocalProvisioner
from jupyter_server.services.kernels.kernelmanager import ServerKernelManager

from aquaplumb.units import DesignError

FORKS = hasattr(os, "fork")
_SPARES = 6  # that wait ready where nothing can fork, each about 200 MB
_PATIENCE = 20  # s for a kernel to be born


class Nursery:
    """Warmed processes; `born` makes a kernel of one.

    Parameters
    ----------
    room : Path
        The room's folder, closed to each kernel but for its learner's own.
    log : file
        Where the processes' own words go.
    forks : bool
        Whether kernels are forked; False takes a waiting process for each.
    """

    def __init__(self, room: Path, log: IO[str], *, forks: bool = FORKS, settings: dict[str, str] | None = None):
        self.room, self.log, self.forks = room, log, forks
        self.environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", **(settings or {})}
        self.ended: dict[int, int] = {}
        self.when_gone: list[Callable[[int], None]] = []
        self._births: dict[str, asyncio.Future[int]] = {}
        self._waiting = b""
        self._watched = False
        self._spares = [self._started() for _ in range(1 if forks else _SPARES)]

    def _started(self) -> subprocess.Popen:
        command = [sys.executable, "-m", "aquaplumb.classroom.warm", str(self.room), *([] if self.forks else ["--once"])]
        return subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=self.log, env=self.environment, start_new_session=True
        )

    def wait(self) -> None:
        """Wait until the first process is warm."""
        out = self._spares[0].stdout
        assert out
        if not out.readline():
            raise DesignError("the pages cannot be made ready here; the last lines of the room's log say why.")
        if self.forks:
            os.set_blocking(out.fileno(), False)

    async def born(self, asked: dict[str, str]) -> Any:
        """A kernel for one page of one learner, as a process that can be asked and ended."""
        if not self.forks:
            return self._taken(asked)
        mother = self._spares[0]
        if mother.poll() is not None:
            raise DesignError("the process that pages come from has ended; start the room again. All kept builds are there.")
        if not self._watched:
            assert mother.stdout
            asyncio.get_running_loop().add_reader(mother.stdout.fileno(), self._heard)
            self._watched = True
        birth = self._births[asked["kernel"]] = asyncio.get_running_loop().create_future()
        assert mother.stdin
        mother.stdin.write((json.dumps(asked) + "\n").encode())
        mother.stdin.flush()
        return Forked(await asyncio.wait_for(birth, _PATIENCE), self)

    def _taken(self, asked: dict[str, str]) -> subprocess.Popen:
        """The spare that has waited longest, warm or about to be; another begins to warm up."""
        spare = self._spares.pop(0)
        self._spares.append(self._started())
        assert spare.stdin
        spare.stdin.write((json.dumps(asked) + "\n").encode())
        spare.stdin.flush()
        loop = asyncio.get_running_loop()

        def ended() -> None:
            spare.wait()
            with contextlib.suppress(RuntimeError):  # the loop is closed: nobody asks any more
                loop.call_soon_threadsafe(self._gone, spare.pid)

        threading.Thread(target=ended, daemon=True).start()
        return spare

    def _heard(self) -> None:
        out = self._spares[0].stdout
        assert out
        got = os.read(out.fileno(), 65536)
        if not got:
            asyncio.get_running_loop().remove_reader(out.fileno())
            return
        *lines, self._waiting = (self._waiting + got).split(b"\n")
        for line in lines:
            word = json.loads(line)
            if "born" in word:
                birth = self._births.pop(word["kernel"], None)
                if birth and not birth.done():
                    birth.set_result(word["born"])
            elif "gone" in word:
                self._gone(word["gone"])

    def _gone(self, pid: int) -> None:
        self.ended[pid] = 0
        for call in self.when_gone:
            call(pid)

    def close(self) -> None:
        """End the processes that wait."""
        for spare in self._spares:
            if spare.stdout and self._watched:
                with contextlib.suppress(RuntimeError, ValueError):
                    asyncio.get_event_loop().remove_reader(spare.stdout.fileno())
            for pipe in (spare.stdin, spare.stdout):
                if pipe:
                    with contextlib.suppress(OSError):
                        pipe.close()
            with contextlib.suppress(OSError):
                spare.terminate()
            spare.wait()


class Forked:
    """A forked kernel, with the words of a `subprocess.Popen`."""

    stdin = stdout = stderr = None

    def __init__(self, pid: int, nursery: Nursery):
        self.pid, self._nursery = pid, nursery

    def poll(self) -> int | None:
        return self._nursery.ended.get(self.pid)

    def wait(self, timeout: float | None = None) -> int:
        return self._nursery.ended.get(self.pid, 0)

    def send_signal(self, number: int) -> None:
        if self.poll() is None:
            with contextlib.suppress(ProcessLookupError):
                os.kill(self.pid, number)

    def terminate(self) -> None:
        self.send_signal(signal.SIGTERM)

    def kill(self) -> None:
        self.send_signal(getattr(signal, "SIGKILL", signal.SIGTERM))


class _FromNursery(LocalProvisioner):
    """Launches a kernel from the room's nursery, where Jupyter's own launches a program."""

    async def launch_kernel(self, cmd: list[str], **kwargs: Any) -> Any:
        manager: Any = self.parent
        asked = {"kernel": str(self.kernel_id), "file": manager.connection_file, "folder": str(kwargs["cwd"])}
        self.process = await manager.parent.nursery.born({**asked, "page": kwargs["env"].get("AQUAPLUMB_PAGE", "")})
        self.pid, self.pgid, self.cwd = self.process.pid, None, kwargs["cwd"]
        return self.connection_info


class LearnerKernel(ServerKernelManager):
    """The kernel of one page of one learner. It is not started again by itself: its page is, with the build as it was kept."""

    async def _async_pre_start_kernel(self, **kwargs: Any) -> Any:
        self.autorestart = False
        self.kernel_id = self.kernel_id or kwargs.get("kernel_id")
        if self.provisioner is None:
            self.provisioner = _FromNursery(kernel_id=self.kernel_id, kernel_spec=self.kernel_spec, parent=self)
        return await super()._async_pre_start_kernel(**kwargs)
