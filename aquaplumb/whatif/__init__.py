"""The what-ifs: sliders that ask "what if?" of a build, one line of code each in a notebook.

Each is a class of `WhatIf` (`aquaplumb.whatif.whatif`), shown in a `Panel` (`aquaplumb.whatif.base`). Modules load when first used: they need ipywidgets and
matplotlib, which the rest of the library does not.
"""

import importlib
import importlib.util

# The what-ifs in the order of the walk, notebook 00 first; each module has one `panel(build)` and one `picture(build)`.
WALK = (
    "start",
    "fish_load",
    "beds_media",
    "water_flow",
    "pipe_size",
    "line_head",
    "drain_siphon",
    "flow_share",
    "pump",
    "levels_time",
    "night_air",
    "supply",
    "start_up",
    "build_sheet",
)
_NAMES = ("Choice", "Count", "Panel", "Slider", "Switch")


def __getattr__(name: str):
    if name in _NAMES:
        return getattr(importlib.import_module("aquaplumb.whatif.base"), name)
    if not name.startswith("_") and importlib.util.find_spec(f"{__name__}.{name}"):
        return importlib.import_module(f"{__name__}.{name}")
    raise AttributeError(f"aquaplumb.whatif has no '{name}'; it has {', '.join(__dir__())}.")


def __dir__():
    from pkgutil import iter_modules

    return sorted([*_NAMES, *(module.name for module in iter_modules(__path__))])
