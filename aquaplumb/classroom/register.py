"""Who is in the room: the code on the wall, the learners with their folders, and what makes a guesser of codes wait.

All of it stands in one small file in the room's folder, so that a restart finds everybody again.
"""

from __future__ import annotations

import datetime
import hmac
import json
import os
import re
import secrets
import time
import unicodedata
from dataclasses import asdict, dataclass
from pathlib import Path

from aquaplumb.classroom.told import forget
from aquaplumb.files import alone, write
from aquaplumb.questions.asked import tidy_name
from aquaplumb.units import DesignError

FILE = ".room.json"
_LONGEST_NAME = 40  # letters, as the questions keep
_MOST = 200  # learners of one folder
_FREE = 4  # wrong codes from one device before it waits
_LONGEST_WAIT = 60.0  # s
_ROOM_FREE = 60  # wrong codes a minute from all devices together


class Taken(DesignError):
    """A name that somebody has, without their number or with another."""


class Waits(DesignError):
    """A device that guessed too often."""


@dataclass
class Learner:
    """One learner: `ident` is what the cookie has, `number` what brings them back on another device."""

    ident: str
    name: str
    number: str
    folder: str
    shown: bool = False


class Register:
    """The learners of a room's folder.

    Parameters
    ----------
    folder : Path
        The room's; made where it is not there yet.

    Raises
    ------
    DesignError
        Where the folder cannot be used.
    """

    def __init__(self, folder: Path):
        self.folder = folder.resolve()
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            os.close(os.open(self.folder / FILE, os.O_CREAT | os.O_RDWR, 0o600))
        except OSError as wrong:
            raise DesignError(f"{folder} cannot be used: {wrong.strerror}. Name another folder: python -m aquaplumb room FOLDER.") from None
        kept = _read(self.folder / FILE)
        self.secret = str(kept.get("secret") or secrets.token_hex(32))
        self.learners = {one["ident"]: Learner(**one) for one in kept.get("learners", [])}
        self.desk = Learner(secrets.token_hex(16), "", "", ".desk")  # the teacher's, where a shown build is looked at
        today = datetime.date.today().isoformat()
        self.code = str(kept["code"]) if kept.get("day") == today and kept.get("code") else f"{secrets.randbelow(900_000) + 100_000}"
        if kept.get("day") != today:
            self.forget_guesses()
        self._day = today
        self._save()

    def _save(self) -> None:
        held = [asdict(one) for one in self.learners.values()]
        write(
            self.folder / FILE,
            json.dumps({"secret": self.secret, "code": self.code, "day": self._day, "learners": held}, ensure_ascii=False, indent=1),
        )

    def known(self, ident: str) -> Learner | None:
        """Who has this in their cookie."""
        return self.desk if ident == self.desk.ident else self.learners.get(ident)

    def place(self, learner: Learner) -> Path:
        """The learner's own folder."""
        return self.folder / learner.folder

    def join(self, name: str, number: str = "") -> Learner:
        """Take a learner in, or find one again by name and number.

        Raises
        ------
        DesignError
            Where the name is blank, too long or taken, or the folder cannot be made; nobody is taken in then.
        """
        called = good_name(name)
        same = [one for one in self.learners.values() if one.name.casefold() == called.casefold()]
        if number.strip():
            for one in same:
                if hmac.compare_digest(one.number.encode(), number.strip().encode()):
                    return one
            raise Taken(f"Nobody called {called} has that number here. It stands on the first page of who joined before.")
        if same:
            raise Taken(
                f"There is a {same[0].name} in the room already. Are you somebody else? Then add a letter or a number, such as "
                f"{called} K. Is it you, from another device? Then give your number too; it stands on your first page there."
            )
        if len(self.learners) >= _MOST:
            raise DesignError(f"This room's folder has {_MOST} learners, which is all it takes; ask the teacher to begin a new folder.")
        taken = {one.number for one in self.learners.values()}
        new = next(text for text in iter(lambda: f"{secrets.randbelow(9000) + 1000}", "") if text not in taken)
        learner = Learner(secrets.token_hex(16), called, new, f"{_plain(called)}-{new}")
        with alone(self.folder / FILE):
            try:
                self.place(learner).mkdir()
                write(self.place(learner) / "my-name.txt", f"{called}\n")
                self.learners[learner.ident] = learner
                self._save()
            except (OSError, DesignError) as wrong:
                self.learners.pop(learner.ident, None)
                raise DesignError(
                    f"The teacher's machine can keep nothing for you just now: {getattr(wrong, 'strerror', None) or wrong} Tell the teacher; nobody's build is lost."
                ) from None
        return learner

    def show(self, learner: Learner, shown: bool) -> None:
        """Note whether the teacher may show this learner's build."""
        before, learner.shown = learner.shown, shown
        try:
            self._save()
        except DesignError:
            learner.shown = before
            raise

    def forget_guesses(self) -> None:
        """Take away what the board knows of a day."""
        for learner in self.learners.values():
            forget(self.place(learner))


def good_name(name: str) -> str:
    """A name as it is shown: letters and spaces as typed, on one line.

    Raises
    ------
    DesignError
        Where nothing is left of it, or it is too long.
    """
    if len(name.strip()) > _LONGEST_NAME:
        raise DesignError(f"That name has {len(name.strip())} letters; {_LONGEST_NAME} at most fit on the board. A first name will do.")
    called = tidy_name(name)
    if not any(sign.isalnum() for sign in called):
        raise DesignError("Type your name: at least one letter.")
    return called


def _plain(name: str) -> str:
    """What of a name can be in a folder's: small letters and digits."""
    ascii_only = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", ascii_only).strip("-")[:24] or "learner"


def _read(path: Path) -> dict:
    try:
        text = path.read_text(encoding="utf-8")
        kept = json.loads(text) if text else {}
        [Learner(**one) for one in kept.get("learners", [])]
        return kept
    except (OSError, ValueError, TypeError, AttributeError):
        raise DesignError(
            f"{path} cannot be read as the list of this room's learners. Put it aside and start again: the learners' folders stay as they are."
        ) from None


class Doorkeeper:
    """Compares codes without telling by its time how much was right, and lets who guesses wait longer each time."""

    def __init__(self, code: str, clock=time.monotonic):
        self._code, self._clock = code, clock
        self._wrong: dict[str, tuple[int, float]] = {}
        self._all: list[float] = []

    def wait(self, device: str) -> float:
        """How long a device has to wait before its next try; 0 for most [s]."""
        now = self._clock()
        count, last = self._wrong.get(device, (0, 0.0))
        own = last + min(2.0 ** (count - _FREE), _LONGEST_WAIT) - now if count >= _FREE else 0.0
        self._all = [at for at in self._all if now - at < 60]
        room = self._all[-_ROOM_FREE] + 60 - now if len(self._all) >= _ROOM_FREE else 0.0
        return max(own, room, 0.0)

    def lets_in(self, device: str, code: str) -> bool:
        """Whether a code is right. A wrong one is counted.

        Raises
        ------
        DesignError
            Where the device has to wait: then the code was not looked at.
        """
        if wait := self.wait(device):
            raise Waits(f"That was wrong a few times. Wait {wait:.0f} seconds, then read the code from the wall again.")
        said = re.sub(r"[\s-]", "", code)[:64]
        if hmac.compare_digest(said.encode(), self._code.encode()):
            self._wrong.pop(device, None)
            return True
        self.wrong(device)
        return False

    def wrong(self, device: str) -> None:
        """Count a wrong code, or a wrong number with a name."""
        now = self._clock()
        self._wrong[device] = (self._wrong.get(device, (0, 0.0))[0] + 1, now)
        self._all.append(now)
        if len(self._wrong) > 1000:
            self._wrong.pop(next(iter(self._wrong)))
