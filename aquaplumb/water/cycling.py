"""Start-up of a new system's bacteria: ammonia, nitrite and nitrate through the weeks, as a shape with a band.

With ammonia out of a bottle, or with fish already in the water. No run promises a date: a test kit says when to
stock. Ammonia, nitrite and nitrate are always *as nitrogen* (N). All of it is reached through `startup`.
"""

from __future__ import annotations

import numpy as np

from aquaplumb.fish.nitrification import above_zero
from aquaplumb.units import (
    DAY,
    NUMBER,
    TIME,
    Concentration,
    Mass,
    MassRate,
    Number,
    Temperature,
    Time,
    Volume,
    check_range,
    takes_quantities,
)
from aquaplumb.water.chemistry import as_nitrogen
from aquaplumb.water.two_step import AMMONIA_OXIDISERS, NITRITE_OXIDISERS, PACE, Ammonia, Nitrifiers, StartUp, two_steps

PAUSE_ABOVE = 5e-3  # kg/m³ of ammonia or nitrite, as N: no dose on such a morning; common practice, no source


@takes_quantities
def dosed_start(
    dose: Concentration,
    *,
    top_up: bool = False,
    dose_days: Time | None = None,
    pause_above: Concentration = PAUSE_ABOVE,
    temperature: Temperature = 298.15,
    days: Time = 60 * DAY,
    seed: Number = 0.0,
    pace: Number = PACE,
    water_change: Number = 0.0,
    change_above: Concentration = 1e-3,
    near_nil: Concentration = 5e-4,
    first: Nitrifiers = AMMONIA_OXIDISERS,
    second: Nitrifiers = NITRITE_OXIDISERS,
) -> StartUp:
    """A start-up without fish: a dose of ammonia each morning until the bacteria can eat it within the day.

    It is ready when a full dose is gone in 24 hours with nitrite near nil, and stays so. Go on dosing until the fish
    come, or the bacteria starve. Use ammonia without soap or scent. CAUTION: strong ammonia burns eyes and lungs:
    goggles, gloves, open air, and never near bleach (a poison gas).

    dose: As N, in all the water of the system: 1 to 4 mg/L.
    top_up: Each dose only fills the ammonia up to ``dose``.
    dose_days: Doses stop after these days; all days when left out.
    pause_above: No dose on a morning with more ammonia or nitrite than this, as N: 5 mg/L.
    temperature: 0 to 40 °C.
    days (one value): Length of the run, up to 365 days.
    seed: The share of a finished biofilm that comes along in old media: 0 to 1.
    pace: Of the textbook's growth and decay; slow, typical and fast when left out.
    water_change: The share of the water changed on a morning when it is needed.
    change_above: Needed when ammonia or nitrite, as N, is more than this.
    near_nil: What counts as gone, as N.
    first: The bacteria on ammonia.
    second: The bacteria on nitrite.

    dX/dt = (μ S/(K + S) − b) X and dS/dt = −μ S/(K + S) X/Y for each group, well mixed, growth by `growth_warmth`,
    decay by 1.08 a degree up to 29 °C. Left out: pH, oxygen and alkalinity limits (all slow below pH 6.5 and 2 mg/L of oxygen),
    poisoning by much ammonia, plants, rotting solids, nitrogen in the bacteria. The textbook's pace is that of
    stirred sludge, about twice as fast as field reports, so the typical pace is half of it, and the slow one such that
    print's 6 to 8 weeks are in the band in warm water too: fits, not laws.

    Source: Growth: Rittmann and McCarty, Environmental Biotechnology (from memory). Pace fitted to Gallego-Alarcón and
    García-Pulido 2017 (5.2 weeks at 17.1 °C); FAO Technical Paper 589 has 1 to 6 weeks, Kentucky State University
    2021 §6.6 6 to 8 weeks. Pause, near nil and ready: common practice, no source.

    >>> from aquaplumb.water import startup
    >>> from aquaplumb import u
    >>> run = startup.dosed_start(2 * u.mg / u.L, temperature=25 * u.degC)
    >>> run.tan.shape == (3, len(run.time)) and bool(run.ready[1] > run.ready[2])
    True
    """
    above_zero(dose, "dosed_start: dose", "2 mg/L")
    last = np.inf if dose_days is None else dose_days

    def of_a_morning(day, tan, nitrite):
        wanted = np.maximum(dose - tan, 0.0) if top_up else dose
        return np.where((day * DAY < last) & (np.maximum(tan, nitrite) <= pause_above), wanted, 0.0)

    wanted = dose - near_nil if top_up else 0.99 * dose
    plan = Ammonia(load=dose / DAY, wanted=wanted, dose=of_a_morning, others=(last, pause_above))
    return two_steps(
        "dosed_start", plan, temperature=temperature, days=days, seed=seed, pace=pace, water_change=water_change,
        change_above=change_above, near_nil=near_nil, first=first, second=second,
    )  # fmt: skip


@takes_quantities
def stocked_start(
    ammonia: MassRate,
    volume: Volume,
    *,
    first_share: Number = 0.2,
    ramp: Time = 42 * DAY,
    temperature: Temperature = 298.15,
    days: Time = 60 * DAY,
    seed: Number = 0.0,
    pace: Number = PACE,
    water_change: Number = 0.0,
    change_above: Concentration = 1e-3,
    near_nil: Concentration = 5e-4,
    first: Nitrifiers = AMMONIA_OXIDISERS,
    second: Nitrifiers = NITRITE_OXIDISERS,
) -> StartUp:
    """A start-up with fish in the water: their ammonia rises from a first share to the whole over the ramp.

    It is ready when the whole load is on and both ammonia and nitrite stay near nil. CAUTION: fish live through every
    peak in this picture. Stock lightly, feed little, test each day, and change water when a limit is passed.

    ammonia: As N, of the full stock (`fish.ammonia_production`).
    volume: All the water of the system.
    first_share: Of the full load, on the first day.
    ramp: Until the load is full; 0 puts it all on at once.
    temperature: 0 to 40 °C.
    days (one value): Length of the run, up to 365 days.
    seed: The share of a finished biofilm that comes along in old media: 0 to 1.
    pace: Of the textbook's growth and decay; slow, typical and fast when left out.
    water_change: The share of the water changed on a morning when it is needed.
    change_above: Needed when ammonia or nitrite, as N, is more than this (FAO 589: 1 mg/L).
    near_nil: What counts as gone, as N.
    first: The bacteria on ammonia.
    second: The bacteria on nitrite.

    The model, and what it leaves out, is that of `dosed_start`.

    Source: As `dosed_start`. The first fifth of the stock: Kentucky State University, Aquaponics Production Manual 2021 §6.6.

    >>> from aquaplumb.water import startup
    >>> from aquaplumb import u
    >>> hasty = startup.stocked_start(6 * u.g / u.day, 1500 * u.L, ramp=0 * u.day)
    >>> gentle = startup.stocked_start(6 * u.g / u.day, 1500 * u.L)
    >>> bool((gentle.nitrite_peak < hasty.nitrite_peak).all())
    True
    """
    above_zero(volume, "stocked_start: volume", "1500 L")
    check_range(first_share, 0.0, 1.0, NUMBER, "stocked_start: first share", "a share")
    check_range(ramp, 0.0, 365 * DAY, TIME, "stocked_start: ramp", "a start-up")
    full, climb = ammonia / volume, (1 - first_share) / np.maximum(ramp, 1.0)
    plan = Ammonia(
        load=full,
        wanted=0.99 * full * DAY,
        supply=lambda time: full * np.minimum(first_share + climb * time, 1.0),
        others=(first_share, ramp),
    )
    return two_steps(
        "stocked_start", plan, temperature=temperature, days=days, seed=seed, pace=pace, water_change=water_change,
        change_above=change_above, near_nil=near_nil, first=first, second=second,
    )  # fmt: skip


@takes_quantities
def ammonia_needed(dose: Concentration, volume: Volume, *, strength: Number | None = None) -> Mass:
    """The mass of ammonium chloride, or of ammonia solution, for a dose: what to weigh out for `dosed_start`.

    CAUTION: ammonia solution burns eyes and lungs: goggles, gloves, open air, never near bleach. No soap, no scent. It
    lifts the pH too; ammonium chloride does not, and is the milder of the two.

    dose: As N.
    volume: All the water of the system.
    strength: The share of NH3 by mass on the bottle of ammonia solution, such as 0.1; ammonium chloride when left out.
    returns: Of the salt or of the solution; a gram of the solution is about a millilitre.

    Source: Ratios of molar masses, IUPAC standard atomic weights.

    >>> from aquaplumb.water import startup
    >>> from aquaplumb import u
    >>> print(round(startup.ammonia_needed(2 * u.mg / u.L, 1500 * u.L).to("g"), 1))
    11.5 g
    """
    if strength is None:
        return dose * volume * 53.491 / 14.0067
    above_zero(strength, "ammonia_needed: strength", "0.1")
    check_range(strength, 0.0, 0.35, NUMBER, "ammonia_needed: strength", "a bottle of ammonia solution")
    return dose * volume / as_nitrogen.si(1.0, "NH3") / strength
