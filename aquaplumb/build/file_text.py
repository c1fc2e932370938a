"""The text of a build file: reading it safely, finding a line in it, and saving without losing anything.

A build file is TOML that a person edits by hand. Its comments and its order survive a save (tomlkit). A save
re-reads the file, changes only its own keys, and refuses where the same key was changed on disk meanwhile
(`aquaplumb.files` replaces it in one step).
"""

from __future__ import annotations

import functools
import pickle
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import tomlkit
from tomlkit.container import Container
from tomlkit.exceptions import TOMLKitError

from aquaplumb.build import likes
from aquaplumb.files import contents
from aquaplumb.sentences import as_given
from aquaplumb.units import KINDS, SYSTEMS, DesignError, Quantity, pint_unit

_LARGEST = 1_000_000  # bytes; a build of a hundred beds has 60,000
MOST = {"vessels": 200, "lines": 600, "conduits": 200}  # a review of so many takes ten seconds and 0.6 GB
_SLOW = 100_000  # bytes over which what is wrong is told in fewer words: of 1 MB of quotation marks the words take a minute
LONGEST_NAME, _NESTED = 10_000, 40  # letters of a name; names of a key with dots in it
REMARKS = {"vented": "a tee, open at the top: it cannot siphon"}  # our own words beside what is true
_TYPED = str.maketrans({"²": "2", "³": "3", "°": "deg", "·": " ", "Ω": "ohm"})
_AMOUNT, _POWER, _THOUSANDS = re.compile(r"-?[\d.,]+ \S+"), re.compile(r"(?<=[mtn])[23]\b"), re.compile(r"(?<![\d.,])\d{4,}")
_HALF = re.compile("[\ud800-\udfff]")
_PART = r"""(?:(?<![\w-])[\w-]++|"[^"\n]*+"|'[^'\n]*+')"""
_DEEP = re.compile(rf"{_PART}(?:[ \t]*+\.[ \t]*+{_PART}){{{_NESTED}}}")
_KEY = re.compile(r"""\s*(?:"((?:[^"\\]|\\.)*)"|'([^']*)'|([A-Za-z0-9_-]+))\s*(\.)?""")


def text_of(path: Path) -> str:
    """The text of a build file, or a plain sentence about why it cannot be read."""
    try:
        if path.is_dir():
            raise DesignError(f"{path} is a folder; give the build file in it, such as {path / 'my-build.toml'}.")
        return contents(path, _LARGEST, "a build file is a page or two").decode("utf-8-sig").replace("\r\n", "\n")
    except FileNotFoundError:
        raise DesignError(f"there is no file {path}; look at its name and folder.") from None
    except UnicodeDecodeError as wrong:
        raise DesignError(f"{path.name} is not plain text (byte {wrong.start}); save it as UTF-8 text.") from None
    except OSError as wrong:
        raise DesignError(f"{path} cannot be read: {wrong.strerror}.") from None


def document(text: str, name: str) -> tomlkit.TOMLDocument:
    """The parsed TOML, comments kept."""
    _bounded(text, name)
    try:
        return pickle.loads(_parsed(text))
    except TOMLKitError as wrong:
        line = getattr(wrong, "line", None)
        where = f"{name}, line {line}" if line else name
        found = re.sub(r" at line \d+ col \d+", "", str(wrong)).rstrip(".")
        said = text.split("\n")[line - 1].strip()[:60] if line and line <= text.count("\n") + 1 else ""
        if comma := re.search(r"=\s*(\d+),(\d+)", said):
            raise DesignError(f"{where}: {comma[1]},{comma[2]} has a comma; write {comma[1]}.{comma[2]} with a decimal point.") from None
        hint = f" The line reads: {said.split('#')[0].strip()}." if said else ""
        raise DesignError(
            f'{where}: this is not TOML ({found}).{hint} Text needs quotes, as in size = "1 in"; a [section] needs both brackets.'
        ) from None
    except RecursionError:
        raise DesignError(f"{name} nests too deep to be a build file.") from None


@functools.lru_cache(maxsize=16)
def _parsed(text: str) -> bytes:
    """A document of one's own is out of these in a seventh of the time that reading the text takes."""
    return pickle.dumps(tomlkit.parse(text))


def values(text: str, name: str) -> dict:
    """What the TOML says, without its comments: many times quicker than `document`, which saving needs."""
    _bounded(text, name)
    try:
        doc = tomllib.loads(text)
    except (ValueError, RecursionError) as wrong:  # ValueError: a number of thousands of digits
        if len(text) > _SLOW:
            raise DesignError(f"{name}: this is not TOML ({wrong!s:.100}).") from None
        try:
            doc = document(text, name).unwrap()  # which says what is wrong
        except TOMLKitError:  # each section by itself is none the worse, but not all together
            raise DesignError(f"{name}: this is not TOML ({wrong!s:.100}).") from None
    _counted(doc, name)
    return doc


def _bounded(text: str, name: str) -> None:
    """Refuse a text that takes hours or all of the memory to take apart."""
    if len(text) > _LARGEST:
        raise DesignError(f"{name} has {len(text) / 1e6:,.1f} MB; a build file is a page or two. Is it the right file?")
    if _HALF.search(text):
        raise DesignError(f"{name} holds half a letter (a surrogate), which no file can; write the text anew.")
    if found := _DEEP.search(text):
        line = text.count("\n", 0, found.start()) + 1
        raise DesignError(
            f"{name}, line {line}: a key of over {_NESTED} names with dots between them; a build file has two, as in pipe.size."
        )


def _counted(doc: dict, name: str) -> None:
    """Refuse names that nobody reads, and more vessels or lines than one review works out in a minute."""
    for section, most in MOST.items():
        if isinstance(found := doc.get(section), dict) and len(found) > most:
            raise DesignError(
                f"{name}: it has {len(found)} {section}; {most} are the most that one review works out. Plan part of it at a time."
            )
    here: list = [doc]
    while here:
        one = here.pop()
        if isinstance(one, dict):
            for long in (key for key in one if len(key) > LONGEST_NAME):
                raise DesignError(f"{name}: '{long[:40]}…' is a name of {len(long):,} letters; {LONGEST_NAME:,} are the most.")
        here.extend(inside for inside in (one.values() if isinstance(one, dict) else one) if isinstance(inside, (dict, list)))


def line_of(text: str, keys: tuple) -> int | None:
    """The line number (from 1) of a key such as ``("lines", "riser", "pipe", 2, "size")``, or of its section."""
    best, best_length = None, 0
    section: tuple = ()
    counts: dict[tuple, int] = {}
    for number, line in enumerate(text.split("\n"), 1):
        bare = line.strip()
        if bare.startswith("["):
            many = bare.startswith("[[")
            names = _keys(bare.lstrip("["))
            section = _with_counts(names, counts)
            if many:
                counts[tuple(names)] = counts.get(tuple(names), -1) + 1
                section = (*section, counts[tuple(names)])
            found = section
        elif "=" in bare and not bare.startswith("#"):
            found = (*section, *_keys(bare))
        else:
            continue
        same = len(found) if found == keys[: len(found)] else 0
        if same > best_length:
            best, best_length = number, same
    return best


def _keys(text: str) -> list[str]:
    keys, place = [], 0
    while found := _KEY.match(text, place):
        keys.append(next(group for group in found.groups()[:3] if group is not None))
        place = found.end()
        if not found[4]:
            break
    return keys


def _with_counts(names: list[str], counts: dict[tuple, int]) -> tuple:
    """A section's path, with the running number of each list of tables that it lies in."""
    path: tuple = ()
    for place, name in enumerate(names):
        path = (*path, name)
        key = tuple(names[: place + 1])
        if key in counts and place < len(names) - 1:
            path = (*path, counts[key])
    return path


# --- getting and setting by path ----------------------------------------------------------------


def path_of(keys) -> tuple:
    """The path that a key says: ``"lines.riser.pump"`` as ``("lines", "riser", "pump")``; a name with a dot in it stands in quotes."""
    found = tuple(quoted or plain for quoted, plain in re.findall(r'"([^"]+)"|([^."]+)', keys)) if isinstance(keys, str) else keys
    if not isinstance(found, tuple) or not found or not all(isinstance(key, (str, int)) for key in found):
        raise DesignError(f'{keys!r:.60} names nothing in a build; write what it is of, such as "lines.riser.pump".')
    return found


def as_changes(changes) -> dict[tuple, object]:
    """Changes by their paths, each value as TOML can hold it."""
    if not isinstance(changes, Mapping):
        raise DesignError(f'changes are given by their keys, such as {{"fish.density": "10 kg/m3"}}; this is {as_given(changes)}.')
    paths = {path_of(keys): value for keys, value in changes.items()}
    return {keys: None if value is None else _plain(value, keys) for keys, value in paths.items()}


def text_from(sections: Mapping, name: str) -> str:
    """The text of a file with these sections."""
    try:
        return tomlkit.dumps(_plain(sections, ()))
    except (TOMLKitError, ValueError, RecursionError) as wrong:
        raise DesignError(f"{name}: {wrong}") from None


def written(value):
    """An amount as it stands in a build file, in signs of any keyboard, such as "48 g/m2/d"; a pure number as it is."""
    if isinstance(value, str):
        return value
    number, unit = (value.m, _units_written().get(value.units) or f"{value.units:~P}") if isinstance(value, Quantity) else (value, "")
    return f"{number:.12g} {unit.translate(_TYPED)}" if unit else float(f"{number:.12g}")


@functools.cache
def _units_written() -> dict:
    """Each unit that a kind of quantity has, as a build file says it: in a builder's order of its parts."""
    units = (kind.unit(system) for kind in reversed(KINDS) for system in SYSTEMS)
    return {pint_unit(unit): unit for unit in units if unit}


def as_said(text: str) -> str:
    """Such an amount as a page says it: "48 g/m²/d", "29 °C", "3,600 L/h"; any other text as it is."""
    if not _AMOUNT.fullmatch(text):
        return text
    text = _THOUSANDS.sub(lambda whole: f"{int(whole[0]):,}", text)
    if text.endswith(" 1/h"):
        return text.removesuffix(" 1/h") + " an hour"
    return _POWER.sub(lambda power: "²³"[int(power[0]) - 2], text).replace("degC", "°C").replace("degF", "°F")


def _plain(value, keys: tuple):
    """A value as TOML can hold it: a quantity as text, through and through."""
    if isinstance(value, tomlkit.items.Item):
        return value
    if isinstance(value, Mapping):
        if strange := [key for key in value if not isinstance(key, str)]:
            raise DesignError(f"{_where(keys)}{strange[0]!r} is no name; write it in quotes.")
        return {key: _plain(one, (*keys, key)) for key, one in value.items() if one is not None}
    if isinstance(value, (list, tuple)):
        return [_plain(one, keys) for one in value]
    if isinstance(value, Path):
        return str(value)
    if hasattr(value, "units") and np.ndim(value.magnitude) == 0:
        return written(Quantity(value.magnitude, str(value.units)))
    plain = value.item() if isinstance(value, np.generic) else value
    if not isinstance(plain, (str, int, float)):
        raise DesignError(f"{_where(keys)}{as_given(value)} cannot stand in a build; give text in quotes, a number, or true or false.")
    return plain


def _where(keys: tuple) -> str:
    return f"{' › '.join(map(str, keys))}: " if keys else ""


def value_at(doc, keys: tuple, absent=None):
    """The value at a path, or `absent`. A name steps into a list of tables to the one with that ``name``."""
    here = doc
    for key in keys:
        here = _step(here, key)
        if here is None:
            return absent
    return here.unwrap() if hasattr(here, "unwrap") else here


def set_all(doc, changes: Mapping[tuple, object]) -> None:
    """Set several values; a section that is like another keeps what it had (`aquaplumb.build.likes`)."""
    likes.settle(doc, changes)
    for keys, value in changes.items():
        if value is None and len(keys) == 3 and keys[0] in likes.SECTIONS and keys[1] in doc.get(keys[0], {}):
            likes.take_away(doc[keys[0]], *keys[1:])
        set_at(doc, keys, value)


def set_at(doc, keys: tuple, value) -> None:
    """Set the value at a path, making sections on the way; ``None`` takes the key away."""
    here = doc
    for key in keys[:-1]:
        there = _step(here, key)
        if there is not None and not isinstance(there, (dict, list)):
            raise DesignError(f"'{key}' in {' › '.join(map(str, keys))} is {there!r:.60}, and holds nothing more.")
        if there is None:
            if isinstance(here, list):
                raise DesignError(f"there is no '{key}' to change in {' › '.join(map(str, keys[:-1]))}.")
            there = here[key] = tomlkit.table()
        here = there
    if isinstance(here, list):
        raise DesignError(
            f"{' › '.join(map(str, keys))} is a list of stretches; say what of which, as in {' › '.join(map(str, keys))} › length."
        )
    if value is None:
        here.pop(keys[-1], None)
    elif keys[-1] in here and getattr(here[keys[-1]], "trivia", None) is not None and not isinstance(value, (dict, list)):
        item = tomlkit.item(value)
        item.trivia.comment_ws, item.trivia.comment = here[keys[-1]].trivia.comment_ws, here[keys[-1]].trivia.comment
        here[keys[-1]] = item
    else:
        here[keys[-1]] = value
        if value is False and keys[-1] in REMARKS:
            _unsay(here, keys[-1])


def _unsay(here, key: str) -> None:
    """Take away our own remark, which says that it is so; what a person wrote stays."""
    item: Any = (here if isinstance(here, Container) else here.value).item(key)
    if item.trivia.comment.lstrip("# ") == REMARKS[key]:
        item.trivia.comment_ws = item.trivia.comment = ""


def _step(here, key):
    if isinstance(here, list):
        if isinstance(key, int):
            return here[key] if 0 <= key < len(here) else None
        return next((item for item in here if item.get("name") == key), None)
    return here.get(key) if hasattr(here, "get") else None


# --- saving ---------------------------------------------------------------------------------------


def merged(path: Path, loaded_text: str, changes: dict[tuple, object]) -> str:
    """The text to save: the file as it is on disk now, with only our keys changed.

    Raises `DesignError` where another notebook changed one of the same keys since `loaded_text` was read.
    """
    before = values(loaded_text, path.name)
    now = document(text_of(path), path.name) if path.exists() else document(loaded_text, path.name)
    wanted = {}
    for keys, value in changes.items():
        old, disk = value_at(before, keys), value_at(now, keys)
        if disk not in (old, value):
            name = " › ".join(map(str, keys))
            raise DesignError(
                f"'{name}' was changed in {path.name} meanwhile: it was {old!r:.60}, now it is {disk!r:.60}, you want {value!r:.60}. "
                "Nothing was saved. Load the file again, then choose."
            )
        wanted[keys] = value
    set_all(now, wanted)
    return tomlkit.dumps(now)


def with_line_ends(path: Path, text: str) -> bytes:
    """The text as it goes to a file: with the line ends, and the mark at its beginning, that the file has."""
    old = path.read_bytes() if path.exists() else b""
    if old.count(b"\r\n") * 2 > old.count(b"\n"):
        text = text.replace("\n", "\r\n")
    return text.encode("utf-8-sig" if old.startswith(b"\xef\xbb\xbf") else "utf-8")
