"""Plan the water of a small recirculating fish-and-plant system, from stocking density to pump choice and the first weeks.

    import aquaplumb as ap
    ap.fish.daily_feed(20 * ap.u.kg, 1.5 * ap.u.percent / ap.u.day)
    print(ap.review.review(ap.load("my-build.toml")))

Modules load when first used, so that ``import aquaplumb`` stays quick.
"""

import importlib

from aquaplumb.units import DesignError, Quantity, quantity, show, u

__version__ = "0.2.0"

_TRADE = ("water", "fish", "beds", "circulation", "pipes", "fittings", "drains", "lines", "pumps", "hammer", "air", "power", "startup", "heat")
_MODULES = (*_TRADE, "units", "tables", "vessels", "build", "levels", "review", "findings", "readings", "figures", "whatif", "quiz")
_NAMES = {"load": "aquaplumb.build", "my_build": "aquaplumb.build", "Build": "aquaplumb.build"}
__all__ = ["DesignError", "Quantity", "quantity", "show", "u", *_MODULES, *_NAMES]


def __getattr__(name: str):
    if name in _NAMES:
        return getattr(importlib.import_module(_NAMES[name]), name)
    if name in _MODULES:
        return importlib.import_module(f"aquaplumb.{name}")
    raise AttributeError(f"aquaplumb has no '{name}'; it has {', '.join(__all__)}.")


def __dir__():
    return sorted(__all__)
