"""Build files with one thing wrong: each key and each number of each demo, as the records and the files themselves list them."""

from __future__ import annotations

import copy
import datetime
import functools
import tomllib
from collections.abc import Iterable
from functools import partial

import tomlkit

from aquaplumb.build import Build, demos, load
from aquaplumb.build.reader import SECTIONS
from aquaplumb.build.sections import OPTIONAL
from aquaplumb.review import review
from aquaplumb.units import DesignError, Record, quantity
from corpus import ANY, RIGHT, SENTENCE, Case, slips

EITHER, REFUSED, TAKEN = (RIGHT, SENTENCE), (SENTENCE,), (RIGHT,)


@functools.cache
def values(demo: str) -> dict:
    """What a demo's file says."""
    return tomllib.loads(load(demo).text)


def leaves(here, keys: tuple = ()) -> Iterable[tuple[tuple, object]]:
    """(path, value) of each key of a file."""
    if isinstance(here, dict):
        for key, value in here.items():
            yield from leaves(value, (*keys, key))
    elif isinstance(here, list) and all(isinstance(one, dict) for one in here):
        for place, value in enumerate(here):
            yield from leaves(value, (*keys, place))
    else:
        yield keys, here


def put(demo: str, keys: tuple, value) -> str:
    """The text of a demo with another value at a path; without the key where the value is None."""
    doc = copy.deepcopy(values(demo))
    here = doc
    for key in keys[:-1]:
        here = here.setdefault(key, {}) if isinstance(here, dict) else here[key]
    if value is None:
        here.pop(keys[-1], None)
    else:
        here[keys[-1]] = value
    return tomlkit.dumps(doc)


def read(demo: str, keys: tuple, value, _folder=None):
    """The build that a demo is then."""
    Build(put(demo, keys, value))


def looked_at(build: Build):
    """A review, told in full."""
    found = review(build)
    str(found)
    return found


def shown(keys: tuple) -> str:
    """A path in words."""
    return " › ".join(map(str, keys))


@functools.cache
def _each_once() -> dict[tuple, tuple[str, tuple, object]]:
    """One place for each key of each sort of section: (demo, path, value), whatever demo has it; fields that none has come from the records."""
    found: dict[tuple, tuple[str, tuple, object]] = {}
    for demo in demos():
        for keys, value in leaves(values(demo)):
            sort = values(demo)[keys[0]][keys[1]].get("kind", "") if keys[0] in ("vessels", "lines") and len(keys) > 2 else ""
            found.setdefault((keys[0], sort, *(k for k in keys[2:] if not isinstance(k, int)), keys[-1]), (demo, keys, value))
    for section, record in {**SECTIONS, **OPTIONAL}.items():
        demo = next((one for one in demos() if section in values(one)), None)
        for field in record._kinds if demo else ():
            found.setdefault((section, "", field), (demo, (section, field), _example(record, field)))
    return found


def _example(record: type[Record], field: str):
    kind = record._kinds[field]
    if isinstance(default := record._defaults.get(field), bool):
        return default
    return "text" if kind is None else kind.example if kind.si else 0.4


_VALUES = {
    "a list": [1, 2], "no list": [], "a table": {"a": 1}, "a date": datetime.date(2026, 1, 1), "400 digits": int("9" * 400), "nan": float("nan"), "no end": float("inf"),
    "true": True, "nothing": "", "escape codes": "\x1b[31mred\u202e", "100,000 letters": "long " * 20_000, "1e300": 1e300, "a table in a list": [{"a": 1}],
}  # fmt: skip
_TEXTS = {
    "other unit": "5 parsecs", "no unit": "5", "no number": "m", "two": "5 m 4 m", "a comma": "1,5 m", "nan": "nan m", "1e400": "1e400 m", "a sum": "9**9**9 m",
    "wrong sort": "5 ohm", "1e99": "1e99 kg", "below 0 K": "-400 degC",
}  # fmt: skip


def structure() -> Iterable[Case]:
    """Each key taken away, each section in a wrong form, and strange keys beside."""
    for demo, keys, _ in _each_once().values():
        yield Case("structure", f"{demo}: without {shown(keys)}", partial(read, demo, keys, None), EITHER)
        yield Case(
            "structure", f"{demo}: strange beside {shown(keys)}", partial(read, demo, (*keys[:-1], "strange"), 1), REFUSED, "strange"
        )
    for demo in demos():
        for section in values(demo):
            for name, odd in {
                "a number": 3,
                "text": "x",
                "a list": [1],
                "no keys": {},
                "a list of tables": [{"a": 1}],
                "true": True,
            }.items():
                yield Case("structure", f"{demo}: {section} is {name}", partial(read, demo, (section,), odd), EITHER)
            yield Case("structure", f"{demo}: without {section}", partial(read, demo, (section,), None), EITHER)


def odd_values() -> Iterable[Case]:
    """Each key with each odd value: refused by its name, or taken as text."""
    for demo, keys, was in _each_once().values():
        for name, odd in _VALUES.items():
            text = isinstance(was, str) and isinstance(odd, str)
            yield Case("values", f"{demo}: {shown(keys)} is {name}", partial(read, demo, keys, odd), EITHER if text or keys[0] == "accepted" or _fits(was, odd) else REFUSED)  # fmt: skip


def _fits(was, odd) -> bool:
    """Whether an odd value is of the sort that stands there."""
    return type(was) is type(odd) or (isinstance(was, (int, float)) and isinstance(odd, (int, float)) and not isinstance(was, bool))


def nonsense() -> Iterable[Case]:
    """Each quantity of each sort of section with what is no quantity of its kind."""
    for demo, keys, was in _each_once().values():
        if _is_quantity(was):
            for name, odd in _TEXTS.items():
                if name != "below 0 K" or "deg" in str(was):
                    yield Case(
                        "nonsense",
                        f"{demo}: {shown(keys)} is {odd}",
                        partial(read, demo, keys, odd),
                        EITHER if _alike(was, odd) else REFUSED,
                    )


def _is_quantity(value) -> bool:
    try:
        return isinstance(value, str) and bool(quantity(value).units is not None)
    except DesignError:
        return False


def _alike(was: str, odd: str) -> bool:
    try:
        return quantity(odd).check(quantity(was).dimensionality)
    except DesignError:
        return False


NAMES = {
    "markup": "<script>alert(1)</script>", "quotes": "bed \"one'", "a formula": "=1+1", "a command": "$(rm -rf ~)", "a path": "../../bed", "escape codes": "\x1b[2Jbed",
    "turned": "bed \u202e1", "joined": "bed\u200d1", "picture": "🐟🐟", "Arabic": "سرير", "Chinese": "床" * 20, "accents": "be" + "\u0301" * 60 + "d", "long": "bed " * 45,
    "blank": "", "space": " ", "line": "bed\n1", "tab": "bed\t1", "dots": "bed.1.2", "arrow": "bed › 1", "point": "bed · 1", "braces": "{name} {0} %s %(x)s", "null": "bed\0",
    "percent": "%n%n", "back": "bed\\1\\", "math": "$x^2$ \\frac", "amp": "a&amp;b & c", "comma": "a,b;c", "hash": "#bed", "bracket": "[bed]", "true": "true", "one": "1",
    "dunder": "__class__", "like": "like", "at": "@bed", "minus": "-bed", "plus": "+bed", "pipe": "a|b", "star": "**bed** _x_ `y`", "url": "http://example.org/?a=1",
    "con": "CON", "dot": ".", "none": "None", "nan": "nan", "mark": "\ufeffbed",
}  # fmt: skip


def _named(name: str, _folder):
    text = load("courtyard").text
    doc = tomllib.loads(text)
    doc["vessels"] = {name if one == "bed 1" else one: found for one, found in doc["vessels"].items()}
    doc["title"] = name
    renamed = tomlkit.dumps(doc).replace('"bed 1"', _quoted(name))
    found = looked_at(Build(renamed))
    for said in (str(found), found._repr_html_()):
        assert "<script>" not in said or said is not found._repr_html_(), "it stands as markup"
    return found


def _quoted(name: str) -> str:
    return tomlkit.item(name).as_string()


def names() -> Iterable[Case]:
    """A bed and a build of hostile names, reviewed and shown."""
    for name, given in NAMES.items():
        yield Case("names", name, partial(_named, given), ANY)


def _typed(text, slider, _folder):
    return slider.si(text)


def panels() -> Iterable[Case]:
    """What is typed into the boxes of a panel: each kind of quantity that a slider can have."""
    from aquaplumb.units import KINDS
    from aquaplumb.whatif.controls import Slider

    for kind in KINDS:
        for name, text in {**_TEXTS, "nothing": "", "400 digits": "9" * 400, "escape codes": "\x1b[2J"}.items():
            slider = Slider("x", f"a {kind.noun.removeprefix('a ')}", kind, kind.example, kind.example, kind.example)
            right = (name == "no unit" and not kind.si) or _alike(kind.example, text)
            yield Case("panels", f"{kind.noun} [{kind.metric}]: {name}", partial(_typed, text, slider), EITHER if right else REFUSED)


GROUPS = {
    "structure": (structure, 90), "values": (odd_values, 180), "nonsense": (nonsense, 120), "slips": (slips.cases, 60), "names": (names, 16), "panels": (panels, 60),
}  # fmt: skip
