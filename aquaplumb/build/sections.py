"""The sections that a build file may have beside its plumbing: air, power, heat and upkeep. Each may be left out."""

from __future__ import annotations

from typing import ClassVar

from aquaplumb.air.air_pumps import air_pump
from aquaplumb.air.stones import air_stone
from aquaplumb.plausible import Told
from aquaplumb.power import PLACES, wire_sizes
from aquaplumb.power.battery_kinds import battery_kind
from aquaplumb.units import (
    VOLTAGE,
    Angle,
    Bore,
    Charge,
    Concentration,
    Current,
    DesignError,
    Length,
    Number,
    Power,
    Temperature,
    Time,
    Voltage,
    Volume,
)
from aquaplumb.water.bases import base_row


class Air(Told):
    """Air into the fish tanks: pump and stones, the spare that starts when the mains fail, and how soon someone comes.

    `depth` is how far under water the stones hang, each on a tube of its own (`tube_bore`, `tube_length`); `keeps_on`
    says that the usual air pump has a battery of its own and does not stand still when its supply fails. `response_time` is how long until someone
    stands at the tank, day or night: left out, nobody has said it. `backup_delay` is how long until the spare runs, by
    itself or by a hand. The spare waits for the mains to fail (where there are none, for the supply of the water pumps): it does
    not see a dead pump, and one that hangs on the mains does not run. `backup_capacity` and `backup_battery` are the spare's own
    battery and its kind; with `backup_inverter` a mains pump runs on it too, at `backup_voltage` (one battery's where left out). Without, a battery pump runs off the battery of
    [power] where there is one, and a mains pump off its inverter.
    """

    sections = ("air",)

    pump: str = ""
    stone: str = "large air stone 100 mm"
    stones: Number = 0.0
    depth: Length = 0.5
    tube_bore: Bore = 6e-3
    tube_length: Length = 2.0
    keeps_on: bool = False
    backup_pump: str = ""
    backup_stones: Number = 0.0
    backup_delay: Time = 0.0
    backup_capacity: Charge | None = None
    backup_battery: str = "lead-acid AGM"
    backup_inverter: bool = False
    backup_voltage: Voltage | None = None
    response_time: Time | None = None

    look_up: ClassVar[dict] = {"pump": air_pump, "stone": air_stone, "backup_pump": air_pump, "backup_battery": battery_kind}

    def check(self) -> None:
        """Refuse a pump without stones."""
        a = self.si
        if a.backup_voltage is not None and not a.backup_inverter:
            raise DesignError(
                "backup_voltage is that of the batteries in front of the spare's inverter, 5 to 60 V: write backup_inverter = true with it; an air pump for a battery has its own."
            )
        for pump, stones, name in ((a.pump, a.stones, "stones"), (a.backup_pump, a.backup_stones, "backup_stones")):
            if bool(pump) != (stones > 0):
                raise DesignError(
                    f"an air pump and its stones go together: give {'pump' if name == 'stones' else 'backup_pump'} and {name}, such as {name} = 4."
                )


class Supply(Told):
    """Electric power for DC pumps: the voltage at the battery, the wire, the battery and the panel that fills it.

    Each pump has a wire of its own; `wire_length` is one way, from the battery to the pump, `warmest_air` and `wire_place` say how
    hot it gets. `always` is what runs beside the pumps day and night; an air pump of [air] that runs from a battery
    is counted by itself. `latitude` and `tilt` are of the panel; `sky_share` is the part of a clear sky's sun that
    clouds let through. What else fills the battery: a `charger` (its current) on the mains, or on a `generator` (its power) where there is one.
    `inverter` (its power) runs what is made for mains from the battery; at `cut_off` a low-voltage cut-off spares the battery.
    """

    sections = ("power",)

    voltage: Voltage
    wire: str = ""
    wire_length: Length = 0.0
    battery: str = ""
    capacity: Charge | None = None
    autonomy: Time = 86400.0
    always: Power = 0.0
    panel: Power | None = None
    latitude: Angle | None = None
    tilt: Angle | None = None
    sky_share: Number | None = None
    warmest_air: Temperature = 313.15
    wire_place: str = "in the shade"
    charger: Current | None = None
    generator: Power | None = None
    inverter: Power | None = None
    cut_off: Voltage | None = None

    choices: ClassVar[dict] = {"wire_place": tuple(PLACES)}
    look_up: ClassVar[dict] = {"wire": wire_sizes.wire, "battery": battery_kind}

    def check(self) -> None:
        """Refuse what cannot work."""
        s = self.si
        for name, value in (("charger", s.charger), ("generator", s.generator), ("inverter", s.inverter)):
            if value is not None and s.capacity is None:
                raise DesignError(
                    f'{"an" if name == "inverter" else "a"} {name} needs a battery beside it: give its capacity, such as capacity = "100 Ah".'
                )
        if s.cut_off is not None and s.cut_off >= s.voltage:
            raise DesignError(
                f"the low-voltage cut-off is set to {VOLTAGE.text(s.cut_off)}; it has to be under the {VOLTAGE.text(s.voltage)} of the battery, such as 11.7 V of 12."
            )
        if s.panel is not None and s.latitude is None:
            raise DesignError(
                'a panel needs to know how far north or south it stands: latitude = "45 deg" (south of the equator "-45 deg").'
            )


class Heat(Told):
    """What the water loses and what warms it: the coldest air, the wind, lids and walls, the heater."""

    sections = ("heat",)

    coldest_air: Temperature
    keep_at: Temperature | None = None
    humidity: Number = 0.6
    covered: Number = 0.0
    insulation: Length = 0.0
    heater: Power | None = None

    look_up: ClassVar[dict] = {}


class Upkeep(Told):
    """How the water is looked after: alkalinity, chloride, tap water, base, the start and the log.

    `start` is "with fish" or "with ammonia"; `seed` the share of a finished biofilm brought along; with fish,
    `first_share` of them come on the first day and all by the end of `ramp`. `alkalinity_held` is what each
    test of the start brings the alkalinity back to, with base. `log` is a file of your own readings.
    """

    sections = ("upkeep",)

    alkalinity: Concentration | None = None
    alkalinity_held: Concentration | None = None
    base: str = "potassium bicarbonate"
    chloride: Concentration | None = None
    nitrite: Concentration = 0.0
    tap_chlorine: Concentration = 0.0
    water_change: Volume = 0.0
    start: str = "with ammonia"
    dose: Concentration = 2e-3
    seed: Number = 0.0
    first_share: Number = 0.2
    ramp: Time = 42 * 86400.0
    log: str = ""

    choices: ClassVar[dict] = {"start": ("with fish", "with ammonia")}
    look_up: ClassVar[dict] = {"base": base_row}


class Accepted(Told):
    """A finding of the review that the builder has looked at: the `reason`, its severity (`kind`) and its sentence (`said`) then."""

    reason: str
    kind: str
    said: str

    choices: ClassVar[dict] = {"kind": ("stop", "fix", "note")}


OPTIONAL = {"air": Air, "power": Supply, "heat": Heat, "upkeep": Upkeep}
