"""Builds of several stocks for the tests: the courtyard demo with a second, smaller fish tank. Invented for the tests."""

from aquaplumb.build import Build, load

_SECOND = """
[vessels."small tank"]
kind = "fish tank"
shape = "round"
diameter = "0.8 m"
height = "0.85 m"
floor = "0.15 m"
working_depth = "0.70 m"
empty_mass = "20 kg"

[[lines.riser.pipe]]
name = "to the small tank"
after = "header"
size = "20 mm"
length = "1.5 m"
fittings = { "tee branch" = 1, "elbow 90" = 1 }
valve = "ball valve"
opening = 0.75
to = "small tank"
outlet = "1.05 m"
share = 0.14

[lines."small overflow"]
kind = "overflow"
from = "small tank"
to = "sump"
lip = "0.85 m"
outlet = "-0.10 m"
size = "63 mm"
standard = "PN10"
length = "2.5 m"
fittings = { "elbow 90" = 2 }
vented = true
screen_open_area = "400 cm2"
"""


def stock(name: str, tank: str, *lines: str, species: str = "Nile tilapia", mass: str = "400 g", rate: str = "1.2 %/d") -> str:
    """The section of one stock; `lines` are what else it says."""
    head = f'tank = "{tank}"\n' if tank else ""
    more = "\n".join(lines)
    return f'[stocks."{name}"]\n{head}species = "{species}"\nbody_mass = "{mass}"\nfeeding_rate = "{rate}"\nprotein = "32 %"\n{more}\n\n'


GROWN = stock("grown", "fish tank", "count = 36")
YOUNG = stock("young", "small tank", "count = 60", mass="60 g", rate="3 %/d")


def text(*stocks: str, second: bool = True) -> str:
    """The courtyard with these stocks in place of its own; with the second tank or without."""
    file = load("courtyard").text.replace("share = 0.53", "share = 0.39") if second else load("courtyard").text
    begin, end = file.index("[fish]"), file.index("[plants]")
    return file[:begin] + "".join(stocks or (GROWN, YOUNG)) + file[end:] + (_SECOND if second else "")


def build(*stocks: str, second: bool = True) -> Build:
    return Build(text(*stocks, second=second))
