"""What a number of the file is that it seldom is: mostly a slip of a unit, or of a decimal point."""

from __future__ import annotations

from aquaplumb.build import file_text
from aquaplumb.review.findings.base import finding, note


@finding("unusual value", notebook="00")
def unusual_value(system, say):
    """A number outside what is usual, in `data/plausible.csv`; those that are alike are told once."""
    alike = {}
    for keys, odd in system.build.unusual.items():
        alike.setdefault((keys[0], [key for key in keys if isinstance(key, str)][-1], odd), []).append(keys)
    for (*_, odd), (keys, *others) in alike.items():
        line = file_text.line_of(system.build.text, keys)
        more = f" (and in {len(others)} more place{'s' * (len(others) > 1)})" if others else ""
        yield note(
            " › ".join(key for key in keys if isinstance(key, str)),
            f"Line {line}{more}: {odd}",
            "Look at its unit and its decimal point. Where it is as it should be, accept this note.",
        )
