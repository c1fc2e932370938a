"""Siphons with an air vent: the flow that starts one, the flow it runs at, and whether it stops again.

Filling, it trickles over the crest as a weir. Above the starting flow it fills, then it runs full on the difference
of levels. When the level uncovers the vent, air comes in and it breaks, but only if less water runs in than the
siphon carries just there. Two traps follow: a flow too small never starts it, and one too large never stops it.
All of it is reached through `drains`.
"""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np

from aquaplumb import water
from aquaplumb.given import takes_things
from aquaplumb.plumbing.full_pipe import GULPING, flow_at_froude, full_bore_flow, in_words
from aquaplumb.plumbing.pipes import ROUGHNESS
from aquaplumb.plumbing.siphon_rows import start_numbers
from aquaplumb.units import Bore, DesignError, Flow, Head, Length, Number, Record, Temperature, below, takes_quantities

_HOLE, _AIR_WEIGHT = 0.61, 1.204  # discharge of a sharp-edged hole (Encyclopaedia Britannica 11e); kg/m³ of air at 20 °C and sea level
_CLEAN_PART = 0.5  # of the hole's area: the rest may be grown shut; common practice, no source
_LEAST_DRILL = 0.006  # m: a thinner hole clogs; common practice, no source
MARGIN = 1.3  # what the siphon should carry at its vent, over the inflow, to be sure to stop


class SiphonStart(Record):
    """The flows at which a siphon starts: a band, since no measured value is in print."""

    never_below: Flow  # Froude 0.3: the air gets out as fast as it comes in
    may: Flow  # Froude 1: it may start
    sure: Flow  # Froude 2: it will


@takes_quantities
def siphon_starting_band(bore: Bore) -> SiphonStart:
    """The band of flows in which a siphon of a bore starts.

    No source known to us prints a measured starting flow, so this is the band in which a falling pipe is said to
    fill: from Froude 1 (one source) to Froude 2 (another). Below it, down to Froude 0.3, a well-made bell or a bend
    at the outlet starts some siphons; do not count on it. The honest way is a bucket and a watch; once three builders'
    rows stand in ``data/measured/siphons.csv``, the band is theirs (`siphon_rows.start_numbers`).

    bore: Of the pipe that falls.

    Source: casualprocessengineer.com (Froude 1); Simpson, Chemical Engineering 1968 (Froude 2, from memory); Hills,
    Chemical Engineering 1983, quoted (0.3).

    >>> from aquaplumb.plumbing import drains
    >>> print(round(drains.siphon_starting_band("26.64 mm").sure.to("L/min")))
    34 L/min
    """
    may, sure = start_numbers()
    return SiphonStart.from_si(
        never_below=flow_at_froude.si(min(GULPING, may), bore), may=flow_at_froude.si(may, bore), sure=flow_at_froude.si(sure, bore)
    )


@takes_quantities
def siphon_flow(
    fall: Head,
    bore: Bore,
    length: Length,
    *,
    k: Number = 1.9,
    roughness: Length = ROUGHNESS,
    temperature: Temperature = 293.15,
) -> Flow:
    """The flow of a siphon that runs full.

    fall: From the water level in the bed down to the pipe's end, or to the water that it ends in.
    length: Of the pipe, up and down.
    k: 1.9 for entrance, bend and exit unless given; add further fittings.
    returns: Take it as ± 15 %.

    v = √(2 g fall / (K + f L/D)).

    Source: Bos, Discharge Measurement Structures (ILRI) 3e, siphon, 1.9 (quoted); ± 15 %, USBR Water Measurement
    Manual ch. 14.

    >>> from aquaplumb.plumbing import drains
    >>> print(round(drains.siphon_flow("0.4 m", "26.64 mm", "1.5 m", k=2.9).to("L/min")))
    46 L/min
    """
    return full_bore_flow.si(fall, bore, length, k=k, roughness=roughness, temperature=temperature)


@takes_quantities
def siphon_stops(inflow: Flow, flow_at_vent: Flow, *, margin: Number = MARGIN):
    """Whether a siphon stops when the level comes down to its vent: "sure", "doubtful" or "no".

    inflow: What runs into the bed meanwhile.
    flow_at_vent: What the siphon carries full with the level at its vent, see `siphon_flow`.
    margin: How far the second must be over the first to be sure.
    returns (str, scalar or array):

    Source: our own reasoning: the level falls past the vent only while more runs out than in. The margin of 1.3
    is ± 15 % (USBR Water Measurement Manual ch. 14) twice over: once for the siphon's flow, once for the inflow.

    >>> from aquaplumb.plumbing import drains
    >>> drains.siphon_stops("20 L/min", "32 L/min")
    'sure'
    """
    if below(margin, 1):
        raise DesignError("the margin is under 1; it says how much more the siphon should carry than runs in, such as 1.3.")
    return in_words(("no", "doubtful", "sure"), np.less(inflow, flow_at_vent), np.less_equal(margin * inflow, flow_at_vent))


class SiphonConditions(Record):
    """Whether a siphon starts and stops at an inflow, and the flows that decide it."""

    inflow: Flow
    starting: SiphonStart
    flow_at_full: Flow  # with the bed full
    flow_at_vent: Flow  # with the level at the vent
    starts: str  # "sure", "may", "no"
    stops: str  # "sure", "doubtful", "no"


@takes_quantities
def siphon_conditions(
    inflow: Flow,
    bore: Bore,
    *,
    fall_at_full: Head,
    fall_at_vent: Head,
    length: Length,
    k: Number = 1.9,
    temperature: Temperature = 293.15,
    starting: SiphonStart | None = None,
    stopping: Flow | None = None,
) -> SiphonConditions:
    """Whether a siphon with a vent starts, and whether it stops again, at an inflow.

    inflow: What runs into the bed.
    fall_at_full: From the full bed's level down to the pipe's end, or to the water that it ends in.
    fall_at_vent: The same from the vent's level.
    length: Of the pipe, up and down.
    k: 1.9 for entrance, bend and exit unless given; add further fittings.
    starting: As measured; else the `siphon_starting_band` of its bore.
    stopping: The largest flow at which it was seen to stop, in place of what it is reckoned to carry with the level at its vent.
    returns: It starts "sure" from Froude 2, "may" from Froude 1, "no" below: there do not count on it. It also has to
        carry more than the inflow when full, or the bed floods. It stops "sure" with a margin of 1.3.

    Source: as `siphon_starting_band`, `siphon_flow` and `siphon_stops`. No measured starting flow is in print.

    >>> from aquaplumb.plumbing import drains
    >>> bed = drains.siphon_conditions("20 L/min", "26.64 mm", fall_at_full="0.6 m", fall_at_vent="0.4 m", length="1.5 m")
    >>> bed.starts, bed.stops
    ('may', 'sure')
    """
    if np.any(np.greater(fall_at_vent, fall_at_full)):
        raise DesignError("the vent is above the bed's full level; it has to be below it, where the siphon should stop.")
    starting = siphon_starting_band.si(bore) if starting is None else starting
    at_full, at_vent = (siphon_flow.si(h, bore, length, k=k, temperature=temperature) for h in (fall_at_full, fall_at_vent))
    at_vent, band = at_vent if stopping is None else stopping, starting.si
    return SiphonConditions.from_si(
        inflow=inflow,
        starting=starting,
        flow_at_full=at_full,
        flow_at_vent=at_vent,
        starts=in_words(("no", "may", "sure"), np.greater_equal(inflow, band.may), np.greater_equal(inflow, band.sure)),
        stops=siphon_stops.si(inflow, at_vent),
    )


@takes_quantities
def air_hole(bore: Bore) -> Bore:
    """The hole by which air gets into a pipe and breaks its siphon: a siphon's vent, or the hole over a pipe end under water.

    It has to let in as much air as the pipe carries water. When the level has come down to the hole, the water in the
    pipe is below the air's pressure by its speed head at least (losses on the way in pull harder, and so does a crest
    above the hole): v²/2g of water drives the air, and v drops out. The hole comes out as a part of the bore.

    bore: Of the pipe that has to stop.
    returns: A third of the bore, 6 mm at least. Half of its area may be grown shut: clean, a quarter would do.

    Area of hole / area of pipe = 2 / (0.61 √(ρ_water/ρ_air)) = 0.114.

    Source: as much air as water, Kadant, "Pump stopped, but water keeps coming" (sizing a vacuum breaker); the rest is
    Bernoulli for both. From memory, siphon spillways are built with an air vent of 1/24 of the throat: without the
    margin this is 1/18. No test with small pipe was found: try yours with water.

    >>> from aquaplumb.plumbing import siphons
    >>> print(round(siphons.air_hole("26.6 mm").to("mm")))
    9 mm
    """
    part = 1.0 / (_CLEAN_PART * _HOLE * np.sqrt(water.density.si(293.15) / _AIR_WEIGHT))
    return np.maximum(np.sqrt(part) * np.asarray(bore), _LEAST_DRILL)[()]


@takes_things
def drill(bore: float, system: str = "metric") -> str:
    """The drill for an `air_hole` in a pipe of that bore [m], in words: the next whole millimetre, or sixteenth of an inch.

    Source: sizes that any shop has; common practice, no source.

    >>> drill(0.0266), drill(0.0266, "US")
    ('9 mm', '3/8 in')
    """
    hole = float(air_hole.si(bore))
    if system != "US":
        return f"{math.ceil(1000 * hole - 1e-6)} mm"
    whole, part = divmod(math.ceil(hole / 0.0254 * 16 - 1e-6), 16)
    return " ".join([*([str(whole)] if whole else []), *([str(Fraction(part, 16))] if part else [])]) + " in"
