"""Plan the water of a small recirculating fish-and-plant system, from stocking density to pump choice and the first weeks.

    import aquaplumb as ap
    ap.fish.daily_feed(20 * ap.u.kg, 1.5 * ap.u.percent / ap.u.day)
    print(ap.review.review(ap.load("my-build.toml")))

Each room is a package by subject; what most people need of them is reached from here, and loads when first used.
"""

import importlib
import importlib.util
import sys
import typing
import warnings

if typing.TYPE_CHECKING:
    from aquaplumb.units import DesignError, Quantity, quantity, show, u

__version__ = "0.2.0"

_MODULES = {  # the public face: each module's name, and where it stands
    "fish": "fish", "beds": "fish.beds", "circulation": "fish.circulation",
    "water": "water", "startup": "water.startup",
    "pipes": "plumbing.pipes", "fittings": "plumbing.fittings", "drains": "plumbing.drains", "jets": "plumbing.jets",
    "lines": "plumbing.lines",
    "pumps": "plumbing.pumps", "hammer": "plumbing.hammer",
    "air": "air", "power": "power", "heat": "power.heat",
    "build": "build", "vessels": "build.vessels",
    "levels": "system.levels",
    "review": "review", "findings": "review.findings", "readings": "review.readings", "compare": "review.compare", "sweep": "review.sweep",
    "figures": "figures",
    "parts": "workshop.parts", "cement": "workshop.cement", "supports": "workshop.supports", "sheet": "workshop.sheet",
    "whatif": "whatif", "quiz": "questions.quiz",
    "units": "units", "tables": "tables",
}  # fmt: skip
_NAMES = {
    **dict.fromkeys(("DesignError", "Quantity", "quantity", "show", "u"), "units"),
    **dict.fromkeys(("load", "my_build", "Build"), "build"),
}
__all__ = ["DesignError", "Quantity", "quantity", "show", "u", *_MODULES, "load", "my_build", "Build"]

# Import lines from before 0.2, when all modules lay in one folder: notebooks that people copied hold them. To go in 0.3.
_BEFORE = {
    "fish": "feeding waste nitrification",
    "water": "chemistry bases dosing makeup=make_up twostep=two_step cycling upkeep",
    "plumbing": "pipesizes=pipe_sizes valves fullbore=full_pipe gravity=part_full siphons pumpcurve=pump_curve pumpduty=pump_choice"
    " pumppoints=pump_file pipework=line_records tree=line_solver sharing=valve_settings",
    "air": "airpumps=air_pumps airstones=stones oxygenbudget=tank_oxygen oxygentime=time_left oxygenrun=night respiration=breathing transfer",
    "power": "battery batterykinds=battery_kinds panels skies=weather solar solaryear=year wires=wire_sizes wiring=wire_choice"
    " wiredpump=pump_on_wire surfaceheat=surface_heat",
    "build": "buildfile=file_text buildreader=reader buildrecords=records buildsections=sections layouts layoutfile=layout_text"
    " layoutlines=layout_lines",
    "system": "steady airplan=air_plan powerplan=power_plan upkeepplan=upkeep_plan stepping switches stories lineflows=line_flows"
    " flowtables=flow_tables events failures drills outcome",
    "review": "filechanges=file_changes sweepranges=ranges designs powercut=power_cut",
    "workshop": "cutlist=cut_list cutting pipestock=pipe_stock figures.drawing=paper figures.as_built=as_built"
    " figures.as_built_words=as_built_words figures.line_plan=line_plan",
    "workshop.parts": "partslines=lines partsrest=equipment partstally=tally partprices=own_prices",
    "workshop.sheet": "sheetrecords=records sheetsettings=adjusting sheetdrills=trials sheethtml=web_page sheetbook=workbook"
    " sheetpdf=pdf sheetfile=saving",
    "questions": "asked whatif.asked=screen",
}
_MOVED = {
    **{name: place for name, place in _MODULES.items() if name != place},
    **{(old := item.partition("="))[0]: f"{room}.{old[2] or old[0]}" for room, items in _BEFORE.items() for item in items.split()},
}


class _Moved:
    """Finds a module by the place where it stood before 0.2; it is the same module, never a second copy."""

    @staticmethod
    def find_spec(name, path=None, target=None):
        room, _, old = name.partition(".")
        if room != "aquaplumb" or not old:
            return None
        head = next((h for h in (old, old.rpartition(".")[0]) if h in _MOVED), None)
        return importlib.util.spec_from_loader(name, _Moved) if head else None

    @staticmethod
    def create_module(spec):
        return None

    @staticmethod
    def exec_module(module):
        name = module.__name__
        old = name.removeprefix("aquaplumb.")
        head = old if old in _MOVED else old.rpartition(".")[0]
        now = f"aquaplumb.{_MOVED[head]}{old.removeprefix(head)}"
        if head not in _MODULES:
            warnings.warn(f"{name} is now {now}; the old line works until aquaplumb 0.3.", DeprecationWarning, stacklevel=2)
        sys.modules[name] = importlib.import_module(now)


sys.meta_path.insert(0, _Moved)


def __getattr__(name: str):
    if name in _NAMES:
        return getattr(importlib.import_module(f"aquaplumb.{_NAMES[name]}"), name)
    if name in _MODULES:
        return importlib.import_module(f"aquaplumb.{_MODULES[name]}")
    raise AttributeError(f"aquaplumb has no '{name}'; it has {', '.join(__all__)}.")


def __dir__():
    return sorted(__all__)
