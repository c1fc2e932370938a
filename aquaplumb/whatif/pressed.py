"""What a press of a button comes to: one sentence, and nothing that is raised out of sight."""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import NamedTuple

from aquaplumb.units import DesignError


class Pressed(NamedTuple):
    """The sentence, with its sign, and the fault in aquaplumb where there was one."""

    said: str
    fault: Exception | None = None


def pressed(action: Callable[[], str], *, otherwise: str = "", file: str = "the build file") -> Pressed:
    """Do what a button is for, and say what came of it.

    action: Gives the sentence to say when it is done; nothing is said where it gives none.
    otherwise: What was not done where it fails, such as "Not kept".
    file: What is written to, where the system's own refusal names no file.
    raises: What is a fault in aquaplumb, where a test asks for it (`AQUAPLUMB_STRICT`).
    """
    not_done = f"{otherwise}: " if otherwise else ""
    try:
        said = action()
        return Pressed(f"✔ {said}" if said else "")
    except DesignError as wrong:
        return Pressed(f"✖ {not_done}{wrong}")
    except OSError as wrong:
        return Pressed(f"✖ {not_done}{wrong.strerror or wrong} ({wrong.filename or file}).")
    except Exception as fault:
        if os.environ.get("AQUAPLUMB_STRICT"):
            raise
        return Pressed(f"✖ {otherwise + '; ' if otherwise else ''}this is a fault in aquaplumb: {type(fault).__name__}: {fault}", fault)
