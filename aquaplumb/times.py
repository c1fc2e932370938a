"""How long an hour and a day are, and the ways to say a time in words. Reached through `units`."""

from __future__ import annotations

import math

HOUR = 3600.0  # s
DAY = 24 * HOUR  # s
MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December")
MONTH_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_YEARLY = 335  # days that are as good as a year

__all__ = ["DAY", "HOUR", "clock", "in_hours", "lasting", "roughly", "span"]


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
    return f"{seconds / 60:.0f} min"


def in_hours(seconds: float) -> str:
    """A time that is told in hours, however long, beside others that are: "36 hours"."""
    hours = seconds / HOUR
    return f"{hours:.3g} hours" if hours < 100 else f"{hours:,.0f} hours"


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
