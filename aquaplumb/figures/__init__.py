"""Pictures: a record goes in, a figure comes out. Every picture has its text twin, `Picture.alt`.

`aquaplumb.figures.style` has the colours, the calm axes and the base class that all pictures are made from.
Modules load when first used, so that the library stays quick without matplotlib.
"""

import importlib
import importlib.util

_NAMES = ("Picture", "Plane", "calm")


def __getattr__(name: str):
    if name in _NAMES:
        return getattr(importlib.import_module("aquaplumb.figures.style"), name)
    if not name.startswith("_") and importlib.util.find_spec(f"{__name__}.{name}"):
        return importlib.import_module(f"{__name__}.{name}")
    raise AttributeError(f"aquaplumb.figures has no '{name}'; it has {', '.join(__dir__())}.")


def __dir__():
    from pkgutil import iter_modules

    return sorted([*_NAMES, *(module.name for module in iter_modules(__path__))])
