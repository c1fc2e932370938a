"""The courtyard with its beds made over: rafts, film channels, towers. What it then says of them is invented for the tests."""

from aquaplumb.build import load

BEDS = ("bed 1", "bed 2")
DRAIN, RESERVE = "{} siphon", "{} emergency overflow"
NO_MEDIA = {("vessels", bed, key): None for bed in BEDS for key in ("medium", "media_depth")}


def made_over(kind: str, *, lip: str, reserve: str, **keys) -> dict:
    """Changes that make both beds of the courtyard vessels of another kind, each with a wide open drain at its lip."""
    changes: dict = {**NO_MEDIA, **{("vessels", bed, "kind"): kind for bed in BEDS}}
    changes |= {("vessels", bed, key): value for bed in BEDS for key, value in keys.items()}
    for bed in BEDS:
        drain, spare = DRAIN.format(bed), RESERVE.format(bed)
        changes |= {("lines", drain, "siphon"): None, ("lines", drain, "size"): "63 mm", ("lines", drain, "standard"): "PN10"}
        changes |= {("lines", drain, "vented"): True, ("lines", drain, "lip"): lip, ("lines", spare, "lip"): reserve}
    return changes


RAFTS = made_over("raft", lip="0.87 m", reserve="0.93 m", working_depth="0.25 m", sites=45)
CHANNELS = made_over(
    "channel", lip="0.87 m", reserve="0.90 m", floor="0.87 m", length="4 m", width="10 cm", height="8 cm", count=6, slope="3 %", sites=20,
    working_depth=None, empty_mass="2 kg",
)  # fmt: skip
TOWERS = made_over(
    "tower", lip="0.30 m", reserve="0.35 m", floor="0.30 m", length="10 cm", width="10 cm", height="0.9 m", count=8, sites=6,
    working_depth=None, empty_mass="2 kg",
) | {("lines", "riser", "pipe", f"to {bed}", "outlet"): "1.2 m" for bed in BEDS}  # fmt: skip


def courtyard(changes: dict, **more):
    """The courtyard with such changes."""
    return load("courtyard").changed({**changes, **more})


def filtered(does="swirl", *, kind="filter", **keys) -> dict:
    """Changes that put a filter between the courtyard's tank overflow (about 1,940 L/h) and its sump."""
    shape = {"shape": "round", "diameter": "60 cm", "height": "0.6 m", "floor": "-0.1 m", "working_depth": "0.45 m"}
    filter_ = {"kind": kind, **({"does": does} if does is not None else {}), **shape, **keys}
    drain = {
        "kind": "overflow",
        "from": "filter",
        "to": "sump",
        "lip": "0.35 m",
        "outlet": "-0.2 m",
        "size": "75 mm",
        "standard": "PN10",
        "length": "1 m",
    }
    return {
        ("vessels", "filter"): {key: value for key, value in filter_.items() if value is not None},
        ("lines", "filter drain"): {**drain, "vented": True},
        ("lines", "filter emergency overflow"): {**drain, "lip": "0.42 m", "size": "90 mm", "emergency": True},
        ("lines", "tank overflow", "to"): "filter", ("lines", "tank emergency overflow", "to"): "filter",
        ("lines", "tank overflow", "outlet"): "0.55 m", ("lines", "tank emergency overflow", "outlet"): "0.55 m",
    }  # fmt: skip
