"""One place for units: quantities outside, bare SI numbers inside.

Everything a person gives or reads carries a unit. `u` is the one registry
(``900 * u.L / u.h``); `quantity` reads a person's text (``"1 1/2 in"``) and evaluates nothing.
`takes_quantities` puts a door on a function: its annotations say which arguments are quantities; inside are plain SI
floats or arrays; `function.si` is the function without the door. `Record` does the same for a group of values:
`record.flow` is a quantity, `record.si.flow` a number. The kinds of quantity are listed in `kinds`, what a person gives
is read in `given`, and records stand in `records`; all of it is reached from here.
"""

from __future__ import annotations

import functools
import math
import typing
from collections.abc import Callable
from typing import Any, Generic, ParamSpec, TypeVar

import numpy as np

from aquaplumb.given import at_least_nothing, kind_in, kind_of, needed_value, noun, quantity, si_value, thing
from aquaplumb.kinds import *  # noqa: F403
from aquaplumb.kinds import KINDS, NUMBER, SYSTEMS, DesignError, Kind, Quantity, pint_unit, rounded, u
from aquaplumb.records import Bare, Columned, Lines, Record, check_range, folded, html_table
from aquaplumb.sentences import as_given
from aquaplumb.signatures import Call, annotated

__all__ = [  # beside the kinds, which are reached from here as well
    "DAY",
    "HOUR",
    "KINDS",
    "MONTHS",
    "MONTH_DAYS",
    "Bare",
    "Columned",
    "Door",
    "Lines",
    "Record",
    "check_range",
    "clock",
    "endless",
    "folded",
    "html_table",
    "in_hours",
    "in_percent",
    "kind_of",
    "lasting",
    "needed_value",
    "noun",
    "quantity",
    "roughly",
    "rounded",
    "show",
    "si_value",
    "span",
    "takes_quantities",
    "u",
]  # fmt: skip


def show(value, system: str = "metric") -> str:
    """A quantity or a record as a builder reads it, in "metric" or "US" units.

    >>> print(show(quantity("0.00025 m3/s")), "or", show(quantity("0.00025 m3/s"), "US"))
    900 L/h or 238 gal/h
    """
    if not isinstance(system, str) or system not in SYSTEMS:
        raise DesignError(f"there is no unit system '{system}'; there are {' and '.join(SYSTEMS)}.")
    if isinstance(value, Record):
        return value._shown(system)
    kind = kind_of(value) if isinstance(value, Quantity) else None
    return kind.text(value.m_as(pint_unit(kind.si)), system) if kind else str(value)


_Given = ParamSpec("_Given")
_Got = TypeVar("_Got", covariant=True)


_Function = TypeVar("_Function", bound=Callable)


def endless(function: _Function) -> _Function:
    """Say of a function that its answer may be without end: a time that never comes, the resistance of a shut valve."""
    vars(function)["endless"] = True
    return function


class Door(typing.Protocol, Generic[_Given, _Got]):
    """What `takes_quantities` makes of a function: quantities or text in, a quantity out; `si` is the function itself."""

    __name__: str
    si: Callable[..., Any]
    kinds: dict[str, Kind]
    returns: Kind | None

    def __call__(self, *args: _Given.args, **kwargs: _Given.kwargs) -> _Got: ...


def takes_quantities(function: Callable[_Given, _Got]) -> Door[_Given, _Got]:
    """Put the door on a function: quantities in and out, bare SI numbers inside.

    Arguments annotated with `Flow`, `Length`, ... are checked and turned to SI; a return annotated so is
    wrapped. Text such as ``"900 L/h"`` serves as a quantity. ``function.si`` is the kernel without the door.
    The docstring gets each name, kind and unit from the annotations (see `signatures`).
    """
    hints = typing.get_type_hints(function, include_extras=True)
    kinds = {name: kind for name, hint in hints.items() if name != "return" and (kind := kind_in(hint))}
    returns = kind_in(hints.get("return"))
    call = Call(function)
    signature = call.signature
    optional = {n for n in kinds if signature.parameters[n].default is None or type(None) in typing.get_args(hints[n])}
    things = {n: found for n, one in signature.parameters.items() if n not in kinds and (found := thing(hints.get(n), one.default))}

    @functools.wraps(function)
    def door(*args, **kwargs):
        given = call.named(args, kwargs)
        for name, value in given.items():
            where = f"{function.__name__}: {name}"
            if name in kinds:
                read = needed_value if name not in optional else si_value
                given[name] = at_least_nothing(read(value, kinds[name], where), kinds[name], where)
            elif name in things:
                given[name] = things[name].read(value, where)
        try:
            result = _answered(call, given, [n for n in kinds if n in given], returns is not None)
        except (TypeError, ValueError) as wrong:
            several = {n: np.shape(v) for n, v in given.items() if n in kinds and np.ndim(v)}
            if isinstance(wrong, DesignError) or not several:
                raise
            raise DesignError(f"{function.__name__}: {_misfit(several)}") from wrong
        return result if returns is None or returns is NUMBER or result is None else returns.quantity(result)

    door.__doc__ = annotated(function, signature, kinds, returns)
    vars(door).update(si=function, kinds=kinds, returns=returns)
    function.__qualname__ += ".si"  # so that it pickles as what it is called
    return typing.cast(Any, door)


def _answered(call: Call, given: dict[str, Any], asked: list[str], checked: bool):
    """What a function answers; where that is no finite number, a refusal with the values `asked` about (`checked`: it is a number)."""
    try:
        result = call(given)
    except ArithmeticError as wrong:
        raise _no_answer(call.function, given, asked) from wrong
    if checked and result is not None:
        bad = np.isnan(result) if getattr(call.function, "endless", False) else ~np.isfinite(result)
        if np.any(bad):
            raise _no_answer(call.function, given, asked)
    return result


def _no_answer(function: Callable, given: dict[str, Any], asked: list[str]) -> DesignError:
    values = ", ".join(f"{name} {as_given(value)}" for name in asked if (value := given[name]) is not None)
    return DesignError(f"{function.__name__}: there is no answer in finite numbers for {values:.200} (SI units); give other values.")


def _misfit(several: dict[str, tuple]) -> str:
    """Why lists of values cannot be worked with."""
    count = " and ".join(f"{name} has {' × '.join(map(str, shape))}" for name, shape in several.items())
    try:
        np.broadcast_shapes(*several.values())
    except ValueError:
        return f"{count} values; give as many to each, or one."
    return f"{count} values; it takes one of each at a time."


# --- times ----------------------------------------------------------------------------------------

HOUR = 3600.0  # s
DAY = 24 * HOUR  # s
MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December")
MONTH_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_YEARLY = 335  # days that are as good as a year


def lasting(seconds: float) -> str:
    """A time to the minute, as of a schedule or a run: "40 min", "1 h 10 min", "8 h"."""
    hours, minutes = divmod(round(float(seconds) / 60.0), 60)
    return " ".join([*([f"{hours} h"] if hours else []), *([f"{minutes} min"] if minutes or not hours else [])])


def roughly(seconds: float) -> str:
    """A time that nobody knows to the minute: minutes, then hours to two digits, and no more than a day."""
    if seconds >= DAY:
        return "more than a day"
    if seconds >= 2 * HOUR - 30:
        return f"{seconds / HOUR:.2g} h"
    return f"{seconds / 60:.0f} min" if seconds >= 30 else "less than a minute"


def in_hours(seconds: float) -> str:
    """A time that is told in hours, however long, beside others that are: "36 hours"."""
    hours = seconds / HOUR
    return f"{hours:.3g} hours" if hours < 100 else f"{hours:,.0f} hours"


def in_percent(share: float, places: int = 0, *, sign: bool = False) -> str:
    """A share in whole per cent, written as every other share is: "70 %"; with its `sign`, "+70 %"."""
    return f"{100 * share:{'+' if sign else ''}.{places}f} %".replace("-", "\u2212")


def span(seconds: float) -> str:
    """A time of days and more, as one says it: "4 days", "6 weeks", "a year"."""
    if not math.isfinite(seconds):
        return "for ever"
    days = seconds / DAY
    if days < 0.95:
        hours = max(1, round(24 * days))
        return f"{hours} hour{'s' * (hours != 1)}"
    if days < 2.95:
        said = f"{days:.1f}".removesuffix(".0")
        return f"{said} day{'s' * (said != '1')}"
    if days >= _YEARLY:
        years = round(days / 365)
        return f"{years} years" if years > 1 else "a year"
    return f"{days:.0f} days" if days < 20.5 else f"{days / 7:.0f} weeks"


def clock(seconds: float) -> str:
    """A time since midnight as the clock shows it: 97,200 s is 3:00."""
    minutes = round(seconds / 60) % 1440
    return f"{minutes // 60}:{minutes % 60:02d}"
