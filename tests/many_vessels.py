"""Builds of twenty vessels, by `like`: sixteen beds alike, or twelve of them each at a height of its own; and ten branches on a chain of
headers. Invented for the tests."""

from aquaplumb.build import Build, load

_PIPE = """
[[lines."bed loop".pipe]]
name = "to {name}"
after = "{after}"
size = "3/4 in"
length = "3 ft"
fittings = {{ "tee branch" = 1, "elbow 90" = 1 }}
valve = "ball valve"
to = "{to}"
outlet = "{outlet} in"
"""
_BED = """
[vessels."{name}"]
like = "bed 4"
floor = "{floor} in"

[lines."{name} drain"]
like = "bed 4 drain"
from = "{name}"
lip = "{lip} in"

[lines."{name} emergency overflow"]
like = "bed 4 emergency overflow"
from = "{name}"
lip = "{spare} in"
"""
_HEADER = """
[[lines."bed loop".pipe]]
name = "header {k}"
after = "{after}"
size = "1 in"
length = "4 ft"
fittings = {{ "tee run" = 1 }}
"""


def many_beds(*, alike: bool, vessels: int = 20, step: float = 1.0) -> Build:
    """The greenhouse with more beds, of twenty vessels in all twelve: `alike` or each a `step` (an inch) higher than the last."""
    text, there = load("greenhouse").text, len(load("greenhouse").vessels)
    for k in range(5, 5 + vessels - there):
        up, name = 0 if alike else step * (k - 4), f"bed {k}"
        text += _PIPE.format(name=name, to=name, after="right header", outlet=42 + up)
        text += _BED.format(name=name, floor=24 + up, lip=33 + up, spare=35 + up)
    return Build(text)


def chained() -> Build:
    """The greenhouse with six more ends on its last bed, each on a header after the header before."""
    text, after = load("greenhouse").text, "right header"
    for k in range(5, 11):
        text += _HEADER.format(k=k, after=after)
        after = f"header {k}"
        text += _PIPE.format(name=f"end {k}", to="bed 4", after=after, outlet=42)
    return Build(text)
