"""Every finding from both sides, and every faulty build.

A row of `BOTH_SIDES` is: the finding, its severity, a build, changes that trip it, and changes that a near neighbour
has which does not. The limits in the comments are worked by hand from the published figure beside the threshold in
`aquaplumb/findings/`, or say that they are common practice.
"""

import ast
import copy
import re
import subprocess
import sys
from pathlib import Path

import pytest

import aquaplumb.review.findings
from aquaplumb.build import demos, load
from aquaplumb.build.vessels import kinds_in_words
from aquaplumb.power import shock_protection
from aquaplumb.review import findings, review
from aquaplumb.review.findings.base import CHECKS
from aquaplumb.review.findings.upkeep import TOO_MANY
from aquaplumb.system.steady import Steady
from growing_builds import BEDS, CHANNELS, RAFTS, TOWERS, filtered

SEVERITIES = findings.SEVERITIES


def pipe(name, key, line="riser"):
    return ("lines", line, "pipe", name, key)


def fall(name, key):
    return ("lines", name, key)


def both(changes_of, *values):
    """The same key of two beds, changed to one value each."""
    return [{changes_of(bed): value for bed in ("bed 1", "bed 2")} for value in values]


DENSITY, FEEDING, BODY = ("fish", "density"), ("fish", "feeding_rate"), ("fish", "body_mass")
ORIGIN = ("water", "origin")
SALT, SPECIES = ("water", "salinity"), ("fish", "species")
HELD = ("upkeep", "alkalinity_held")
COLD, RATE, RATING = ("site", "coldest_water"), ("water", "nitrification_rate"), ("site", "floor_rating")
OUTLET, REMOVAL, TURNOVERS = ("water", "outlet_oxygen"), ("water", "removal"), ("water", "turnovers")
COMES, HANGS, BATTERY = ("air", "response_time"), ("air", "depth"), ("air", "backup_capacity")
STAYS, FULL = ("water", "solids_stay"), ("water", "inlet_saturation")
NO_STONES = {("air", key): None for key in ("pump", "stones", "backup_pump", "backup_stones")}
NO_SPARE = {("air", "backup_pump"): None, ("air", "backup_stones"): None}
CONTROL, PUMP, WANTED = fall("riser", "control"), fall("riser", "pump"), fall("riser", "wanted")
ALKALINITY, NITRITE, CHLORIDE, CHANGE, FIRST, SEED = (
    ("upkeep", key) for key in ("alkalinity", "nitrite", "chloride", "water_change", "first_share", "seed")
)
ALL_SHUT = ("courtyard", {pipe(p, "opening"): 0 for p in ("to the tank", "to bed 1", "to bed 2")})
STEEP = {fall("tank to settler", "outlet"): "41 in"}
TANK, RESERVE, SIPHON = "tank overflow", "tank emergency overflow", "bed 1 siphon"
NO_MEDIA = {("vessels", b, k): None for b in ("bed 1", "bed 2") for k in ("medium", "media_depth")}


def year(count=40, mass="40 g", *, arrives="1 April", leaves="31 October", cold="20 degC", warm="28 degC", species="Nile tilapia", **more):
    """Changes that put a season in place of a demo's own fish."""
    one = {"species": species, "arrives": arrives, "leaves": leaves, "count": count, "body_mass": mass, "protein": 0.32, **more}
    return {("fish",): None, ("season",): {"temperature": {"January": cold, "July": warm}, "stocks": {"spring": one}}}


MARCH = year(60, "250 g", arrives="1 November", leaves="15 April next year", cold="9 degC", warm="29 degC", species="rainbow trout")
LITTLE_MEDIA = {("vessels", bed, "media_depth"): "1.5 cm" for bed in ("bed 1", "bed 2")}
LONG_SUCTION = {("lines", "main", "pump"): "demo mains 280 W external", **{
    ("lines", "main", "suction", "suction", key): value for key, value in (("size", "3/4 in"), ("length", "60 ft"))
}}  # fmt: skip
LENGTHS_SHORT, LENGTHS_LESS_SHORT, LENGTHS_LONG, LENGTHS_LESS_LONG = both(
    lambda bed: ("vessels", bed, "length"), "0.85 m", "0.92 m", "4.5 m", "4.3 m"
)
SUCTION = ("lines", "main", "suction", "suction pipe")
HEIGHT, INLET = ("lines", "main", "pump_height"), ("lines", "main", "inlet_depth")
FOOT = {(*SUCTION, "fittings"): {"foot valve, hinged": 1, "elbow 90": 1, "union": 1}, (*SUCTION, "opening"): 1.0}
# its points end at 7,900 L/h and 1.8 m; pipes of 63 mm throughout take more
PAST_ITS_LAST_POINT = {PUMP: "demo mains 280 W external"} | {("lines", "riser", "pipe", place, "size"): "63 mm" for place in range(5)}
HIGH_UP, LESS_HIGH_UP = ({pipe(p, "outlet"): h for p in ("to the tank", "to bed 1", "to bed 2")} for h in ("3.6 m", "3.5 m"))


def duct(**keys):
    """The header, 32 mm pipe, in a straight duct 47 mm wide and 70 cm deep, where it never freezes."""
    found = {"size": "63 mm cable duct", "length": "2 m", "buried": "70 cm", **keys}
    found = {key: value for key, value in found.items() if value is not None}
    return {("conduits", "garden duct"): found, pipe("header", "conduit"): "garden duct", FROST: "0 cm"}


def cable(**keys):
    return {("conduits", "garden duct"): {"size": "50 mm cable duct", "length": "2 m", "cables": {"mains pump cord": 1}, **keys}}


def each(made: dict, key: str, value) -> dict:
    """What the beds of the courtyard were made over to, with one key of both changed."""
    return {**made, **{("vessels", bed, key): value for bed in BEDS}}


CARRIERS = {"medium": "moving-bed carrier 10 mm", "media_volume": "60 L", "air_flow": "10 L/min"}
PACKED = {"medium": "structured plastic media", "media_depth": "0.55 m"}
DRY_FILTER = {
    ("lines", name, key): value
    for name in ("tank overflow", "tank emergency overflow")
    for key, value in (("to", "sump"), ("outlet", "-0.1 m"))
}


def joined(bore):
    """The two tanks of a demo joined by a pipe of another bore."""
    return {fall("joint", "size"): None, fall("joint", "bore"): bore}


LEGS, FOOT_OF = ("vessels", "bed 1", "legs"), ("vessels", "bed 1", "foot")
FROST, DUG = ("site", "frost_depth"), pipe("header", "buried")
HOSE = {pipe("header", "size"): None, pipe("header", "bore"): "26 mm"}
ON_FLOOR, STIRS = {fall("tank overflow", "intake"): "12 in"}, pipe("stirring jets", "nozzle_angle", "tank loop")
# 24 W through a dark fortnight of 0.5 kWh/m²/d on the worst of five invented winters: three times what pays for its days
SUNNY = {("power", "panel"): "1200 W", ("power", "tilt"): "65 deg", ("power", "capacity"): "240 Ah"}
ON_BATTERY = {("power", "voltage"): "24 V", ("power", "capacity"): "300 Ah", ("power", "battery"): "LiFePO4", ("power", "charger"): "20 A"}


def few(opening: float) -> dict:
    """Changes that nearly shut the valves of both growing vessels."""
    return {("lines", "riser", "pipe", f"to {bed}", "opening"): opening for bed in BEDS}


def dripping(bore="4 mm", *, other=None, slot="0.8 mm") -> dict:
    """The courtyard's towers on eight drippers an end; those of the second with another bore."""
    pipe = ("lines", "riser", "pipe")
    bores = dict(zip(BEDS, (bore, other or bore)))
    holes = {(*pipe, f"to {bed}", key): value for bed in BEDS for key, value in (("nozzle_bore", bores[bed]), ("nozzles", 8))}
    return {**TOWERS, **holes, ("lines", "riser", "strainer_slot"): slot}


def aired(heater: str) -> dict:
    """A season with its air, and a heater."""
    told = {"temperature": {"January": "20 degC", "July": "28 degC"}, "air": {"January": "2 degC", "July": "22 degC"}}
    return {("season",): told, ("heat", "heater"): heater}


# The courtyard's riser, leg by leg: its pump stands on the sump's floor at -0.70 m, the water is at -0.25 m, the tank's pipe ends at 1.05 m.
def routed(riser, to_the_tank):
    return {
        **{pipe("riser", key): value for key, value in (("length", None), ("route", riser))},
        **{pipe("to the tank", key): value for key, value in (("length", None), ("route", to_the_tank))},
        pipe("header", "route"): None,  # how high the beds' ends are from there is another matter
    }


def end_of_bed_1(outlet):
    """The terrace's first bed, with an end at another height and its legs level as before."""
    branch = ("lines", "tank drain", "pipe", "to bed 1")
    return {(*branch, "outlet"): outlet, (*branch, "route"): ["0.17 m", "elbow 90", "0.83 m"]}


def stand(**places):
    """Where vessels of the courtyard stand: along and across to their middle, in metres; of the rest the file says nothing."""
    told = {name.replace("_", " "): [f"{x} m", f"{y} m"] for name, (x, y) in places.items()}
    return {("vessels", name, "at"): told.get(name) for name in ("fish tank", *BEDS, "sump")}


def site(**keys):
    return {("site", key): value for key, value in keys.items()}


YARD = site(yard_length="6 m", yard_width="5 m")
UP = ["up 0.2 m", "union", "up 0.3 m", "swing check valve", "up 0.4 m", "elbow 90", "0.8 m", "elbow 90", "0.5 m"]
TO_TANK = ["0.3 m", "ball valve", "0.3 m", "elbow 90", "up 0.6 m"]
BOTH_SIDES = [
    # The fish tank is 1.4 m across: its middle 0.7 m from the edge is just in the yard, 0.5 m is 0.2 over it.
    ("vessel outside the yard", "fix", "courtyard", {**YARD, **stand(fish_tank=(0.5, 2))}, {**YARD, **stand(fish_tank=(0.7, 2))}),
    # Two beds of 2.0 by 1.1 m, across each other: 1.0 m apart they overlap by 0.1, 1.2 m they do not. A bed over the sunk sump is fine.
    ("two in one place", "fix", "courtyard", stand(bed_1=(2, 1), bed_2=(2, 2)), stand(bed_1=(2, 1), bed_2=(2, 2.2), sump=(2, 1))),
    # The overflow has 2.5 m of pipe; tank (0.7 m round its middle) and sump (1.5 m along) in one line, 3.5 m between their middles: 2.05 m of
    # ground and 0.95 of height, 2.26 m; 4.5 m: 3.05 and 0.95, 3.19 m.
    ("pipe shorter than its way", "fix", "courtyard", stand(fish_tank=(1, 1), sump=(5.5, 1)), stand(fish_tank=(1, 1), sump=(4.5, 1))),
    ("path too narrow", "note", "courtyard", stand(bed_1=(2, 1), bed_2=(2, 2.4)), stand(bed_1=(2, 1), bed_2=(2, 2.7))),  # 0.3 and 0.6 m
    ("bed out of reach", "note", "courtyard", {**stand(bed_1=(2, 1)), ("vessels", "bed 1", "width"): "1.3 m"}, stand(bed_1=(2, 1))),
    # 0.6 m of path: the tank's edge 0.3 and 0.7 m from the door
    ("vessel before the door", "fix", "courtyard", {**stand(fish_tank=(1, 1)), **site(door=["2 m", "1 m"])}, {
        **stand(fish_tank=(1, 1)), **site(door=["2.4 m", "1 m"])}),
    # 2 m, zone 1 of IEC 60364-7-702 (from memory): 1.5 and 2.3 m from the tank's edge
    ("socket within splash", "fix", "courtyard", {**stand(fish_tank=(1, 1)), **site(socket=["3.2 m", "1 m"])}, {
        **stand(fish_tank=(1, 1)), **site(socket=["4 m", "1 m"])}),
    # 40 mm: elbow to elbow takes up 2 × 21 (ISO 264), a leg of 30 mm is 12 short; one of 43 leaves a millimetre between the sockets
    ("piece too short", "fix", "courtyard", routed([*UP[:6], "0.03 m", *UP[7:]], TO_TANK), routed([*UP[:6], "0.043 m", *UP[7:]], TO_TANK)),
    # Sockets and take-offs of the riser: union 2 × 10, check valve 2 × 55, elbows 4 × 21, adapter 20, tee 21, and three gaps: 0.3 m do, 0.2 not
    ("piece too short", "fix", "courtyard", {pipe("riser", "length"): "0.2 m"}, {pipe("riser", "length"): "0.4 m"}),
    # 0.9 + 0.6 m up from 1.05 m is -0.45 m, in the sump's water; 0.9 + 0.9 is -0.75 m, under its floor
    ("route misses its heights", "fix", "courtyard", routed(UP, [*TO_TANK[:4], "up 0.9 m"]), routed(UP, TO_TANK)),
    # lip 0.85 to outlet -0.10 m: 0.95 m down
    ("route misses its heights", "fix", "courtyard", {
        fall(TANK, "length"): None, fall(TANK, "route"): ["0.8 m", "elbow 90", "down 0.7 m", "elbow 90", "0.7 m"],
    }, {fall(TANK, "length"): None, fall(TANK, "route"): ["0.8 m", "elbow 90", "down 0.95 m", "elbow 90", "0.7 m"]}),
    # … and an elbow inside looks up by 32.5 + 37.5 mm (ISO 264, ISO 727), so that the pipe itself leaves at 0.78 m: 0.88 m down do too
    ("route misses its heights", "fix", "courtyard", {
        fall(TANK, "length"): None, fall(TANK, "route"): ["0.8 m", "elbow 90", "down 0.74 m", "elbow 90", "0.7 m"],
    }, {fall(TANK, "length"): None, fall(TANK, "route"): ["0.8 m", "elbow 90", "down 0.88 m", "elbow 90", "0.7 m"]}),
    # a hole in the wall whose lowest point is the lip: pipe of 57 mm sets out 28.5 over 1.05 m, and 78.5 mm bring it to 1.00; 130 do not
    ("route misses its heights", "fix", "raft-hall", {
        fall("tank overflow", "length"): None, fall("tank overflow", "route"): ["0.9215 m", "elbow 90", "down 0.13 m"],
    }, {fall("tank overflow", "length"): None, fall("tank overflow", "route"): ["0.9 m", "elbow 90", "down 0.0785 m"]}),
    # a stretch of a falling line with branches goes down from its tee, 0.62 m, to its end
    ("route misses its heights", "fix", "terrace", end_of_bed_1("0.40 m"), end_of_bed_1("0.62 m")),
    # A year of the fish: the review is of its worst month only where there is one; ratios of what is asked to what can be done, over and under 1.
    ("worst month of the year", "note", "courtyard", year(), {}),
    ("season beyond the beds", "stop", "courtyard", {**year(300), RATE: "0.02 g/m2/d"}, {**year(30), RATE: "0.02 g/m2/d"}),
    ("season beyond the air", "stop", "courtyard", year(300), year(40)),
    ("season too dense", "fix", "courtyard", year(80), year(40)),  # 40 come to 400 g in October: 16 kg in 1.08 m³, 15 kg/m³; 80 are over 20
    ("season out of its warmth", "stop", "courtyard", year(cold="10 degC", arrives="1 February"), year(cold="20 degC", arrives="1 February")),
    ("harvest not reached", "fix", "courtyard", year(harvest_mass="900 g"), year(harvest_mass="300 g")),
    ("nitrate gathers through the year", "fix", "courtyard", year(70), {**year(70), CHANGE: "120 L"}),
    ("oxygen time short in another month", "stop", "courtyard", {**MARCH, **LITTLE_MEDIA}, MARCH),  # full beds: April is the worst of both
    # water through time: a timer of 1 s is refused before a step is made; 15 min are 13 h / 30 min = 26 rounds
    ("failures not run through", "stop", "courtyard", *({CONTROL: {"kind": "timer", "on": time, "off": time}} for time in ("1 s", "15 min"))),
    # fish and feed
    ("density over limit", "fix", "courtyard", {DENSITY: "20.5 kg/m3"}, {DENSITY: "19.5 kg/m3"}),  # FAO 589: 20
    ("density over limit", "stop", "courtyard", {DENSITY: "61 kg/m3"}, {DENSITY: "59 kg/m3"}),  # SRAC 4503: 60
    ("temperature out of range", "stop", "courtyard", {COLD: "13.5 degC"}, {COLD: "14.5 degC"}),  # FAO 589 ch. 7: 14
    ("temperature out of range", "note", "courtyard", {COLD: "26.5 degC"}, {COLD: "27.5 degC"}),  # FAO 589 ch. 7: 27
    ("feed too heavy", "fix", "courtyard", {FEEDING: "3.2 %/d"}, {FEEDING: "2.8 %/d"}),
    ("feed too heavy", "fix", "courtyard", {FEEDING: "5 %/d"}, {FEEDING: "5 %/d", BODY: "80 g"}),
    ("outlet oxygen low", "fix", "courtyard", {OUTLET: "3.9 mg/L"}, {OUTLET: "4.1 mg/L"}),  # FAO 589 ch. 7: 4
    # at 28 °C Emerson's pKa is 9.155: 6.5 % un-ionised at pH 8, 4.2 % at 7.8; 0.05 mg/L of 1 mg/L is 5 %
    ("un-ionised ammonia high", "fix", "courtyard", {("water", "ph"): 8.0}, {("water", "ph"): 7.8}),
    # print has 1 %/d at 250 g and 0.8 at 450 (data/feeding.csv): 0.84 at 400 g on logarithms, three quarters is 0.63
    ("feed below the peak", "note", "courtyard", {FEEDING: "0.61 %/d"}, {FEEDING: "0.65 %/d"}),
    ("feed below the peak", "note", "courtyard", {FEEDING: "0.61 %/d"}, {FEEDING: "0.61 %/d", BODY: "3.2 kg"}),  # past the table
    # a file that says two things: a shut valve before 4 m³/h, a lip or an end under the floor of its vessel, a float above the rim
    ("drain shut", "stop", "courtyard", *({fall("tank overflow", "valve"): "ball valve", fall("tank emergency overflow", "valve"): "ball valve", fall("tank overflow", "opening"): shut, fall("tank emergency overflow", "opening"): shut} for shut in (0.0, 1.0))),
    ("drain shut", "fix", "courtyard", *({fall("tank overflow", "valve"): "ball valve", fall("tank overflow", "opening"): shut} for shut in (0.0, 1.0))),
    ("height outside its vessel", "fix", "courtyard", {fall("tank overflow", "outlet"): "-0.75 m"}, {fall("tank overflow", "outlet"): "-0.69 m"}),
    ("float never turns on", "stop", "courtyard", {CONTROL: {"kind": "float", "on_depth": "1.2 m", "off_depth": "20 cm"}}, {CONTROL: {"kind": "float", "on_depth": "45 cm", "off_depth": "20 cm"}}),
    ("low switch stops nothing", "fix", "courtyard", *({CONTROL: {"kind": "always", "cut_out_depth": low}} for low in ("9 cm", "12 cm"))),  # the inlet draws air from 10 cm on
    # beds: 5.71 g/d of ammonia N; 396 m² of clay surface; 194 g/d of feed on 40 to 50 g/m²/d of lettuce
    ("biofilter short", "fix", "courtyard", {RATE: "0.014 g/m2/d"}, {RATE: "0.015 g/m2/d"}),  # 408 and 381 m²
    ("biofilter short", "stop", "courtyard", {RATE: "0.007 g/m2/d"}, {RATE: "0.008 g/m2/d"}),  # 816 and 714 m²
    ("biofilter short", "stop", "courtyard", NO_MEDIA, {}),
    ("biofilter short", "stop", "courtyard", {RATE: "0 g/m2/d"}, {RATE: "0.3 g/m2/d"}),  # 0 is a rate, and not "not given"
    # below 5 °C only Hoang et al. 2014 measured; a rate of one's own needs no word
    ("bacteria in the cold", "note", "courtyard", {COLD: "4.5 degC"}, {COLD: "5.5 degC"}),
    ("bacteria in the cold", "note", "courtyard", {COLD: "0 degC"}, {COLD: "0 degC", RATE: "0.3 g/m2/d"}),
    ("biofilter short", "note", "courtyard", {RATE: "0.019 g/m2/d"}, {RATE: "0.02 g/m2/d"}),  # 297 m² at the least: 300, 286
    ("growing area off the feed", "fix", "courtyard", LENGTHS_SHORT, LENGTHS_LESS_SHORT),  # half of 194/50 is 1.94 m²
    ("growing area off the feed", "note", "courtyard", LENGTHS_LONG, LENGTHS_LESS_LONG),  # twice 194/40 is 9.7 m²
    # the tank, brimful: π/4 · 1.4² · 0.85 m³ and 40 kg on π/4 · 1.4² m² is 8.6 kN/m²
    ("load over floor rating", "stop", "courtyard", {RATING: "8.5 kN/m2"}, {RATING: "8.7 kN/m2"}),
    ("load over floor rating", "note", "courtyard", {RATING: None}, {}),
    # a bed of the courtyard, brimful, is 825 kg: 2.7 kN on each of three legs, 2.02 on each of four; EN 1991-1-1 (from memory): 2 kN on a spot
    ("leg presses like a heel", "note", "courtyard", {LEGS: 4}, {LEGS: 5}),
    ("leg presses like a heel", "note", "courtyard", {LEGS: 3, FOOT_OF: "33 cm2"}, {LEGS: 3, FOOT_OF: "35 cm2"}),
    ("bed too shallow", "fix", "courtyard", {("vessels", "bed 1", "media_depth"): "19 cm"}, {("vessels", "bed 1", "media_depth"): "21 cm"}),
    # 850 L/h come to each set of channels: 53 and 57 L/h to one of 16 and 15, 213 and 170 to one of 4 and 5; FAO 589: 1 to 2 L/min
    ("channel flow off", "fix", "courtyard", each(CHANNELS, "count", 16), each(CHANNELS, "count", 15)),
    ("channel flow off", "note", "courtyard", each(CHANNELS, "count", 4), each(CHANNELS, "count", 5)),
    ("channel badly laid", "fix", "courtyard", each(CHANNELS, "slope", "0.9 %"), each(CHANNELS, "slope", "1.1 %")),  # 1:100
    ("channel badly laid", "note", "courtyard", each(CHANNELS, "length", "12.5 m"), each(CHANNELS, "length", "11.5 m")),  # FAO 589: 12 m
    # 2.2 m² and 25 cm are 550 L; seven of them at 850 L/h are new every 4.5 h, six every 3.9 h; FAO 589: 1 to 4 h
    ("water stale under rafts", "note", "courtyard", each(RAFTS, "count", 7), each(RAFTS, "count", 6)),
    ("roots short of oxygen", "fix", "courtyard", {**RAFTS, **few(0.12)}, {**RAFTS, **few(0.5)}),
    ("towers without drippers", "note", "courtyard", TOWERS, dripping()),
    ("drippers uneven", "fix", "courtyard", dripping(other="6 mm"), dripping()),
    ("dripper has next to no head", "note", "courtyard", dripping("9 mm", slot="2 mm"), dripping()),
    ("dripper clogs", "fix", "courtyard", dripping(slot="1.1 mm"), dripping(slot="0.9 mm")),  # a quarter of 4 mm
    ("dripper clogs", "note", "courtyard", dripping(slot=None), dripping()),
    ("tower gets little water", "fix", "courtyard", dripping("1 mm", slot="0.2 mm"), dripping()),
    ("heater short in a month", "fix", "courtyard", aired("300 W"), aired("4000 W")),
    ("roots hang dry", "note", "courtyard", {**CHANNELS, COMES: "130 min"}, {**CHANNELS, COMES: "110 min"}),
    ("roots hang dry", "note", "courtyard", {**CHANNELS, COMES: None}, {**RAFTS, COMES: None}),
    # filters: 1,920 L/h leave the tank; on π/4 · 0.6² m² they rise at 6.8 m/h, on 0.46² at 11.6, on 0.48² at 10.6
    ("solids rise with the water", "note", "courtyard", filtered(diameter="46 cm"), filtered(diameter="48 cm")),  # Davidson and Summerfelt: 11.2
    ("solids rise with the water", "fix", "courtyard", {**RAFTS, **filtered("settling")}, filtered("settling")),  # a bed takes the rest
    ("solids rise with the water", "note", "courtyard", filtered("settling", diameter="96 cm"), filtered("settling", diameter="104 cm")),  # 2.65, 2.26; SRAC 453: 2.44
    # 1,920 L/h in 15 min are 480 L: π/4 · 1.1² m² with 46 cm of water are 440 L, with 1.2² 520 L
    ("water hurries through the settling tank", "note", "courtyard", filtered("settling", diameter="1.1 m"), filtered("settling", diameter="1.2 m")),
    ("mat or screen too small", "note", "courtyard", filtered("mat", face="0.30 m2"), filtered("mat", face="0.34 m2")),  # 6.4 and 5.7 m/h of 6
    ("mat or screen too small", "fix", "courtyard", {**RAFTS, **filtered("mat", face="0.15 m2")}, {**RAFTS, **filtered("mat", face="0.17 m2")}),
    ("filter gets no water", "fix", "courtyard", {**filtered(), **DRY_FILTER}, filtered()),
    ("nothing takes out solids", "fix", "courtyard", RAFTS, {**RAFTS, **filtered()}),
    ("nothing takes out solids", "fix", "courtyard", {**RAFTS, **filtered("moving bed")}, {**RAFTS, **filtered(["screen", "moving bed"])}),
    # about 130 L of water: Rusten et al. 2006 has 70 % of carriers at most; 3 volumes of air an hour are 6.5 L/min
    ("moving bed does not move", "fix", "courtyard", filtered("moving bed", **{**CARRIERS, "media_volume": "94 L"}), filtered("moving bed", **{**CARRIERS, "media_volume": "86 L"})),
    ("moving bed does not move", "note", "courtyard", filtered("moving bed", **{**CARRIERS, "media_volume": "23 L"}), filtered("moving bed", **{**CARRIERS, "media_volume": "29 L"})),
    ("moving bed does not move", "fix", "courtyard", filtered("moving bed", **{**CARRIERS, "air_flow": "6 L/min"}), filtered("moving bed", **{**CARRIERS, "air_flow": "7 L/min"})),
    # 100 to 250 m³/m²/d (Timmons and Ebeling, from memory) are 4.2 and 10.4 m/h: 1,920 L/h on 0.46 and on 0.18 m²
    ("trickling filter badly wetted", "fix", "courtyard", filtered("trickling", **PACKED, diameter="80 cm"), filtered("trickling", **PACKED, diameter="74 cm")),
    ("trickling filter badly wetted", "note", "courtyard", filtered("trickling", **PACKED, diameter="46 cm"), filtered("trickling", **PACKED, diameter="50 cm")),
    ("trickling filter badly wetted", "note", "courtyard", filtered("trickling", **{**PACKED, "media_depth": "48 cm"}), filtered("trickling", **PACKED)),
    # 1,920 L/h are 32 L/min of water, five of air to one are 160 L/min; 0.6 m of fall leave 0.4^0.6 of what is over the air's
    ("degasser short of air", "note", "courtyard", filtered("degassing", **PACKED), {**filtered("degassing", **PACKED, air_flow="170 L/min"), ("water", "inlet_carbon_dioxide"): "9.3 mg/L"}),
    # how much water moves: the tank gets 1,940 L/h, the beds 1,720; water comes in at 0.9 × 7.71 mg/L of oxygen
    ("flow short of oxygen need", "fix", "courtyard", {OUTLET: "5.6 mg/L"}, {OUTLET: "5.4 mg/L"}),
    ("flow short of oxygen need", "stop", "courtyard", {OUTLET: "6 mg/L"}, {OUTLET: "5.8 mg/L"}),
    ("flow short of oxygen need", "stop", "courtyard", {OUTLET: "7 mg/L"}, {OUTLET: "5 mg/L"}),
    ("flow short of ammonia need", "fix", "courtyard", {REMOVAL: "13 %"}, {REMOVAL: "15 %"}),  # 1,830 and 1,590 L/h
    ("flow short of ammonia need", "stop", "courtyard", {REMOVAL: "6 %"}, {REMOVAL: "8 %"}),  # 3,970 and 2,980 L/h
    ("flow short of turnover", "fix", "courtyard", {TURNOVERS: "2 /h"}, {TURNOVERS: "1.8 /h"}),  # 2,160 and 1,940 L/h
    # carbon dioxide: 66.7 g/d over 1.3 and 1.5 mg/L is 2,140 and 1,850 L/h
    ("flow short of turnover", "fix", "courtyard", {("water", "carbon_dioxide_limit"): "6.3 mg/L"}, {("water", "carbon_dioxide_limit"): "6.5 mg/L"}),
    ("timer too short", "fix", "courtyard", {CONTROL: {"kind": "timer", "on": "30 min", "off": "30 min"}}, {CONTROL: {"kind": "timer", "on": "50 min", "off": "10 min"}}),
    ("float pump always on", "note", "greenhouse", {fall("bed loop", "pump"): "demo mains 45 W submersible"}, {}),
    ("float pump always on", "note", "courtyard", {CONTROL: {"kind": "float", "on_depth": "45 cm", "off_depth": "20 cm"}}, {}),
    # pumped pipe
    ("pipe too slow", "note", "courtyard", {pipe("to bed 1", "size"): "32 mm"}, {}),  # ASPE: 2 ft/s
    ("pipe too fast", "note", "courtyard", {pipe("riser", "size"): "32 mm"}, {}),
    ("pipe too fast", "fix", "riser-too-thin", {}, {pipe("riser", "size"): "40 mm"}),
    ("shares off the whole", "note", "courtyard", {pipe("to bed 2", "share"): 0.4}, {pipe("to bed 2", "share"): 0.235}),
    ("bed shares uneven", "note", "courtyard", {pipe("to bed 2", "opening"): 0.6}, {pipe("to bed 2", "opening"): 0.9}),
    ("bed shares uneven", "fix", "courtyard", {pipe("to bed 2", "opening"): 0.3}, {pipe("to bed 2", "opening"): 0.6}),
    ("bed shares uneven", "stop", "courtyard", {pipe("to bed 2", "outlet"): "2.5 m"}, {pipe("to bed 2", "outlet"): "1.1 m"}),
    ("valve nearly shut", "fix", "courtyard", {pipe("to bed 1", "opening"): 0.24}, {pipe("to bed 1", "opening"): 0.26}),
    # from the sump's water at −0.25 m to the outlets at 1.05 m is 1.30 m
    # a way out 2 in over the floor: 0.405 ft/s of 0.492 (Timmons and Ebeling, from memory: 0.15 m/s); with the inlet pointed 0.518
    ("tank turns too slowly", "note", "greenhouse", ON_FLOOR, {**ON_FLOOR, pipe("inlet", "nozzle_angle", "tank loop"): "0 deg"}),
    # 80° off the wall leaves a sixth of the push: 0.21 ft/s at most
    ("tank turns too slowly", "fix", "greenhouse", {**ON_FLOOR, STIRS: "80 deg"}, {**ON_FLOOR, STIRS: "0 deg"}),
    # 1.9 × ∛(100 W / 1.08) cm/s: 17.9 for 9 g and 18.8 for 10.5 g; 11.6 for 2.5 g and 13.0 for 3.5 g; it turns at 12.4, at most 18.3
    ("tank turns too fast", "note", "greenhouse", {BODY: "9 g"}, {BODY: "10.5 g"}),
    ("tank turns too fast", "fix", "greenhouse", {BODY: "2.5 g"}, {BODY: "3.5 g"}),
    ("jets against each other", "fix", "greenhouse", *({pipe("inlet", "nozzle_angle", "tank loop"): angle} for angle in ("180 deg", "0 deg"))),
    ("nozzle clogs before the strainer", "fix", "greenhouse", *({("lines", "tank loop", "strainer_slot"): slot} for slot in ("0.46 in", "0.44 in"))),
    ("lift left out", "fix", "courtyard", {fall("riser", "chosen_head"): "1.2 m"}, {fall("riser", "chosen_head"): "1.4 m"}),
    ("check valve costly", "note", "courtyard", {pipe("riser", "fittings"): {"spring check valve": 1}}, {}),
    ("suction throttled", "fix", "suction-throttled", {}, {("lines", "main", "suction", "suction pipe", "opening"): 1.0}),
    ("suction throttled", "fix", "valve-nearly-shut", {("lines", "main", "suction", "suction", "size"): "1 in"}, {}),
    ("suction throttled", "stop", "valve-nearly-shut", {**LONG_SUCTION, ("site", "altitude"): "7000 ft"}, LONG_SUCTION),
    # the side that draws: the water of suction-throttled stands at 3 in, its mouth 5 in over the floor under 15 in of water
    ("suction not described", "fix", "courtyard", {PUMP: "demo mains 280 W external"}, {}),
    ("suction not described", "fix", "suction-throttled", {HEIGHT: None}, {}),
    ("loose pipe empties the fish tank", "note", "balcony", {}, {("lines", "riser", "control"): {"kind": "always", "cut_out_depth": "45 cm"}}),
    ("loose pipe empties the fish tank", "note", "pipe-end-under-water", {}, {("lines", "riser", "pipe", "to the tank", "break_hole"): "1.2 m"}),
    ("pump not primed", "stop", "suction-throttled", {HEIGHT: "3.5 in"}, {HEIGHT: "2.5 in"}),
    ("pump not primed", "stop", "courtyard", {fall("riser", "pump_height"): "0 m"}, {fall("riser", "pump_height"): "-0.5 m"}),
    ("pump not primed", "note", "suction-throttled", {**FOOT, HEIGHT: "3.5 in"}, {**FOOT, HEIGHT: "2.5 in"}),
    # 26 ft less 2 ft for each 1000 ft of altitude (a pump maker's print): 24.2 ft at 900 ft, over water at 0.25 ft and some 0.5 ft of losses
    ("suction lift beyond the pump", "stop", "suction-throttled", {**FOOT, HEIGHT: "24.4 ft"}, {**FOOT, HEIGHT: "23 ft"}),
    # ANSI/HI 9.8, 730 gal/h in 34.5 mm: 0.82 m/s, Froude 1.41, 34.5 (1 + 2.3 · 1.41) = 147 mm or 5.8 in; over the mouth 15 in less its height
    ("inlet too near the surface", "fix", "suction-throttled", {INLET: "9.5 in"}, {INLET: "8.5 in"}),
    ("inlet too near the surface", "fix", "suction-throttled", {INLET: "9.5 in"}, {INLET: "9.5 in", (*SUCTION, "fittings"): {"strainer": 1}}),
    ("inlet depth not given", "fix", "courtyard", {fall("riser", "inlet_depth"): None}, {}),
    # pushed into ring seals it comes apart; cemented drain pipe is tested tight at 0.5 bar, 5 m (EN 1329, from memory)
    ("drain pipe under pressure", "stop", "courtyard", *({pipe("riser", "standard"): s, pipe("riser", "size"): "40 mm"} for s in ("EN 1451", "PN6"))),
    ("drain pipe under pressure", "fix", "courtyard", *(
        {pipe("riser", "standard"): s, pipe("riser", "size"): "40 mm", PUMP: "demo mains 45 W submersible"} for s in ("EN 1329", "PN6")
    )),
    ("hammer pressure over rating", "fix", "riser-too-thin", {}, {pipe("riser", "size"): "32 mm"}),
    # falling water: 1,940 L/h on 12 cm over the lip; an orifice of 0.6 · area · √(2 g 0.12 m) carries 2,160 L/h in
    # 28.8 mm, 1,260 in 22 mm, 3,410 in 36.2 mm
    ("drain short", "fix", "courtyard", {fall(TANK, "size"): "32 mm"}, {fall(TANK, "size"): "40 mm"}),
    # With an emergency overflow that takes the rest nothing spills; without one it does.
    ("drain short", "fix", "courtyard", {fall(TANK, "size"): "25 mm"}, {fall(TANK, "size"): "40 mm"}),
    ("drain short", "stop", "courtyard", {("lines", RESERVE): None, fall(TANK, "size"): "25 mm"}, {("lines", RESERVE): None, fall(TANK, "size"): "32 mm"}),
    ("drain short", "stop", "courtyard", {("lines", RESERVE): None, fall(TANK, "lip"): "0.98 m"}, {("lines", RESERVE): None, fall(TANK, "lip"): "0.93 m"}),
    # one of three branches over a rise, higher than the tank's water; a hump 5 cm over the lower end, and one that is none
    ("branch without water", "fix", "terrace", *({("lines", "tank drain", "pipe", 1, "crown"): crown} for crown in ("1.2 m", "0.63 m"))),
    # 419 gal/h in 3 in pipe are 0.31 ft/s, under ASPE's 2.
    ("flat run", "note", "flat-drain", {fall("tank to settler", "outlet"): "44 in"}, STEEP),
    ("air held in a hump", "note", "courtyard", *({fall(TANK, "vented"): None, fall(TANK, "crown"): crown} for crown in ("-0.05 m", "-0.11 m"))),
    # a joint of two tanks, 1,240 L/h (327 gal/h): the small tank may stand 2.5 in higher than the large one up to its emergency lip, 4 in up to the
    # freeboard. Hand, π/4 D² √(2 g h / 1.5): at 2.5 in 1,140 L/h in 0.83 in, at 4 in 1,440; at 4 in 430 L/h in 0.45 in; at 2.5 in 6,600 L/h in 2 in
    ("drain short", "fix", "kitchen-garden", joined("0.45 in"), joined("2 in")),
    ("drain short", "stop", "kitchen-garden", {**joined("0.45 in"), ("lines", "small tank emergency overflow"): None}, {("lines", "small tank emergency overflow"): None}),
    ("emergency overflow in use", "fix", "kitchen-garden", joined("0.83 in"), joined("2 in")),
    ("no overflow path", "fix", "kitchen-garden", {("lines", "small tank emergency overflow"): None}, {}),
    ("outlet without a screen", "fix", "kitchen-garden", {fall("joint", "screen_open_area"): None}, {}),
    ("emergency overflow in use", "fix", "courtyard", {fall(TANK, "lip"): "0.95 m"}, {fall(TANK, "lip"): "0.85 m"}),
    ("emergency overflow in use", "fix", "courtyard", {fall(RESERVE, "lip"): "0.84 m"}, {fall(RESERVE, "lip"): "0.89 m"}),
    ("working depth off the lip", "note", "courtyard", {("vessels", "fish tank", "working_depth"): "0.60 m"}, {("vessels", "fish tank", "working_depth"): "0.71 m"}),
    ("drain has no fall", "stop", "courtyard", {("lines", RESERVE): None, fall(TANK, "outlet"): "0.98 m"}, {("lines", RESERVE): None, fall(TANK, "outlet"): "0.70 m"}),
    ("drain has no fall", "fix", "courtyard", {fall(TANK, "outlet"): "0.98 m"}, {fall(TANK, "outlet"): "0.70 m"}),
    ("drain has no fall", "note", "courtyard", {fall(TANK, "outlet"): "0.86 m"}, {fall(TANK, "outlet"): "0.70 m"}),
    # Manning with n = 0.011: 1,920 L/h in a bore of 56 mm run at 0.596 m/s down 1.6 % and at 0.65 m/s down 2 %; ASPE asks for 0.61
    ("drain has no fall", "fix", "courtyard", {fall(TANK, "outlet"): "0.81 m"}, {fall(TANK, "outlet"): "0.80 m"}),
    ("outlet without a screen", "fix", "courtyard", {fall(TANK, "screen_open_area"): None}, {fall(TANK, "screen_open_area"): "40 cm2"}),
    # Hand: 0.85 m less −0.10 m; and 1.05 m less −0.60 m along 0.1, 0.8 and 0.7 m
    ("pipe shorter than its rise", "fix", "courtyard", {fall(TANK, "length"): "0.94 m"}, {fall(TANK, "length"): "0.95 m"}),
    ("pipe shorter than its rise", "fix", "courtyard", {pipe("riser", "length"): "0.1 m"}, {pipe("riser", "length"): "0.2 m"}),
    # Manning half full, n 0.011 (ASCE, PVC), 1.6 %: 1,270 L/h in 40.9 mm, 2,460 in 52.5 mm; 1,587 L/h comes
    ("gravity line too full", "note", "flat-drain", {**STEEP, fall("tank to settler", "size"): "1 1/2 in"}, {**STEEP, fall("tank to settler", "size"): "2 in"}),
    ("gravity line too full", "fix", "flat-drain", {**STEEP, fall("tank to settler", "size"): "1 in"}, {**STEEP, fall("tank to settler", "size"): "1 1/2 in"}),
    # Froude number of 1,940 L/h: 0.88 in 36.2 mm, 1.56 in 28.8 mm, 0.28 in 57 mm, 0.50 in 45.2 mm; limits 0.3 and 1
    ("overflow can siphon", "note", "courtyard", {fall(TANK, "vented"): None, fall(TANK, "size"): "40 mm"}, {fall(TANK, "vented"): None}),
    ("overflow can siphon", "fix", "courtyard", {fall(TANK, "vented"): None, fall(TANK, "size"): "32 mm"}, {fall(TANK, "size"): "32 mm"}),
    ("overflow can siphon", "fix", "courtyard", {fall(RESERVE, "size"): "50 mm"}, {fall(RESERVE, "size"): "63 mm"}),
    # 861 L/h; Froude 1 is 1,080 L/h in 27.2 mm, 579 in 21.2 mm, 334 in 17 mm; Froude 2 is twice that
    ("siphon never starts", "fix", "courtyard", {fall(SIPHON, "size"): "32 mm"}, {fall(SIPHON, "size"): "25 mm"}),
    ("siphon never starts", "note", "courtyard", {fall(SIPHON, "size"): "25 mm"}, {}),
    # full bore goes by the root of the pipe's length where friction is all: 1,250 L/h through 1.2 m is 954 through 3 m and 777 through 5 m; 854 come
    ("siphon never stops", "fix", "courtyard", {fall(SIPHON, "length"): "5 m"}, {fall(SIPHON, "length"): "3 m"}),
    ("siphon never stops", "note", "courtyard", {fall(SIPHON, "length"): "3 m"}, {}),
    # 0.3 m/s for grown fish (NMFS, from memory): 1,940 L/h through 18 cm²
    ("screen too fast", "fix", "courtyard", {fall(TANK, "screen_open_area"): "17 cm2"}, {fall(TANK, "screen_open_area"): "19 cm2"}),
    ("screen too fast", "fix", "courtyard", {fall(TANK, "screen_open_area"): "30 cm2", fall(TANK, "screen_blocked"): 0.5}, {fall(TANK, "screen_open_area"): "30 cm2"}),
    ("no overflow path", "stop", "courtyard", {("lines", TANK): None, ("lines", RESERVE): None}, {}),
    ("no overflow path", "fix", "courtyard", {("lines", RESERVE): None}, {}),
    ("no overflow path", "fix", "courtyard", {("lines", "bed 1 emergency overflow"): None}, {}),
    # the pump: 2,750 L/h are wanted; 3,630 come, 3,380 with the high fitting losses
    ("pump short at real head", "fix", "courtyard", {PUMP: "demo mains 80 W submersible"}, {}),
    ("pump short at real head", "stop", "courtyard", {PUMP: "demo mains 20 W submersible"}, {PUMP: "demo mains 80 W submersible"}),
    ("pump short at real head", "stop", "courtyard", {PUMP: "demo mains 8 W submersible"}, {}),  # it lifts 1.3 m
    ("pump short at real head", "stop", *ALL_SHUT, {}),
    ("pump short at real head", "note", "courtyard", {WANTED: "3750 L/h"}, {WANTED: "3400 L/h"}),  # 95 %: 3,560 and 3,230
    ("unusual value", "note", "courtyard", {SALT: "40 g/kg"}, {}),  # data/plausible.csv
    ("pump outside its curve", "fix", "courtyard", HIGH_UP, LESS_HIGH_UP),  # 85 % of 4.5 m is 3.83 m: 3.85, 3.75
    ("pump outside its curve", "fix", "courtyard", PAST_ITS_LAST_POINT, {PUMP: "demo mains 280 W external"}),
    ("pump far too strong", "note", "courtyard", {WANTED: "1400 L/h"}, {WANTED: "1500 L/h"}),  # 2.6 and 2.4 times
    ("float chatters", "fix", "greenhouse", {fall("bed loop", "control"): {"kind": "float", "on_depth": "22 in", "off_depth": "21 in"}}, {}),
    ("pump draws air", "stop", "courtyard", {fall("riser", "inlet_depth"): "46 cm"}, {fall("riser", "inlet_depth"): "44 cm"}),
    ("pump draws air", "stop", "greenhouse", {fall("bed loop", "inlet_depth"): "10 in"}, {fall("bed loop", "inlet_depth"): "8 in"}),
    # through time. Courtyard, power cut: the tank lets go 1.54 m² × 15 mm, two beds 2.2 m² × 0.45 × 0.2 m each, the siphons'
    # water over their lips 2.2 × 0.45 × 16 mm each: 23 + 396 + 32 = 450 L less what is on its way; on 1.8 m² some 23 cm over 45 cm
    ("sump overflows on power cut", "stop", "courtyard", {("vessels", "sump", "height"): "0.68 m"}, {("vessels", "sump", "height"): "0.72 m"}),
    ("pump runs dry on start", "fix", "pipe-end-under-water", {}, {pipe("to the tank", "break_hole"): "0.73 m"}),
    # each second way out ends where the first does, and not in the sump: the dosing tank goes on filling
    (
        "beds get no water", "note", "greenhouse", {},
        {fall("tank emergency overflow", "to"): "settling tank", fall("tank emergency overflow", "outlet"): "34 in",
         fall("settling emergency overflow", "to"): "dosing tank", fall("settling emergency overflow", "outlet"): "26 in"},
    ),
    # the beds take 4 × 2.23 m² × 0.23 m × 0.45 = 0.92 m³; over the inlet the sump has 1.86 m² × 0.30 m = 0.57 m³
    ("pump runs dry on start", "note", "greenhouse", {}, {("vessels", "sump", "width"): "9 ft"}),
    ("tank drains back through the pump line", "stop", "pipe-end-under-water", {}, {pipe("to the tank", "break_hole"): "0.73 m"}),
    ("tank drains back through the pump line", "stop", "pipe-end-under-water", {}, {pipe("riser", "fittings"): {"elbow 90": 1, "swing check valve": 1}}),
    ("tank drains back through the pump line", "fix", "pipe-end-under-water", {pipe("riser", "fittings"): {"swing check valve": 1}}, {pipe("to the tank", "outlet"): "0.95 m"}),
    # a tank of 0.62 m holds half of its water at 0.31 m
    ("fish tank falls below a safe depth", "stop", "second-pump-in-the-fish-tank", {}, {fall("bench line", "inlet_depth"): "32 cm"}),
    ("fish tank falls below a safe depth", "stop", "second-pump-in-the-fish-tank", {fall("bench line", "inlet_depth"): "29 cm"}, {fall("bench line", "control"): {"cut_out_depth": "32 cm"}}),
    ("spills while running", "stop", "siphon-into-a-small-bucket", {}, {("vessels", "bucket", "length"): "3 m"}),
    ("spills when a pump or siphon fails", "stop", "upper-sump-with-one-way-out", {}, {fall("tank line", "control"): {"cut_out_depth": "44 cm", "cut_in_depth": "47 cm"}}),
    ("pump runs dry", "fix", "nothing-stops-the-second-pump", {}, {fall("bed line", "control"): {"cut_out_depth": "15 cm"}}),
    ("pump runs dry", "stop", "siphon-into-a-small-bucket", {}, {("vessels", "bucket", "length"): "3 m"}),
    # Manning, weir and orifice let 50 mm out of the way of 1,940 L/h with 6 cm to the rim; 25 mm is too narrow (see "drain short")
    ("no overflow path", "fix", "courtyard", {fall(RESERVE, "size"): "25 mm"}, {fall(RESERVE, "size"): "63 mm"}),
    # upkeep: 5.71 g/d of ammonia N × 7.15 (stoichiometry; the library's figure is 7.146) is 40.8 g/d of alkalinity in 2,383 L, 17.1 mg/L
    # a day; over the 20 mg/L of the floor three days are 71.4 mg/L, one day 37.1
    ("alkalinity running out", "fix", "courtyard", {ALKALINITY: "70 mg/L"}, {ALKALINITY: "73 mg/L"}),
    ("alkalinity running out", "stop", "courtyard", {ALKALINITY: "36 mg/L"}, {ALKALINITY: "38 mg/L"}),
    ("alkalinity running out", "stop", "courtyard", {ALKALINITY: "15 mg/L"}, {("upkeep",): None}),  # without the section nothing is said
    # ten of chloride for one of nitrite as NO2 is 32.8 for one as N (46.0/14.0): the 120 mg/L there hold 3.65; at the least ten for one as N
    # 7.15 g of CaCO3 for each gram of N: 90 mg/L less 20 is gone with 9.8 mg/L of N, five doses of 2 mg/L
    ("alkalinity of the start", "fix", "courtyard", {HELD: None}, {HELD: "100 mg/L"}),
    ("alkalinity of the start", "fix", "courtyard", {HELD: "30 mg/L"}, {HELD: "100 mg/L"}),  # 10 mg/L over 20 is less than a day's 14.3
    ("alkalinity of the start", "fix", "courtyard", {HELD: None}, {HELD: None, ("upkeep", "start"): "with fish"}),
    ("nitrite with too little chloride", "fix", "courtyard", {NITRITE: "3.7 mg/L"}, {NITRITE: "3.6 mg/L"}),
    ("nitrite with too little chloride", "fix", "courtyard", {NITRITE: "0.3 mg/L", CHLORIDE: None}, {NITRITE: "0.3 mg/L"}),
    # Lawson and Anetekhai 2011: Nile tilapia all lived at 7 g/kg, all died at 9; FAO 29: crops suffer over 2 g/kg
    ("water too salty", "stop", "courtyard", {SALT: "8 g/kg"}, {SALT: "7 g/kg"}),
    ("water too salty", "stop", "courtyard", {SALT: "40 g/kg", SPECIES: "barramundi"}, {SALT: "35 g/kg", SPECIES: "barramundi"}),
    # 78 mg/L in a year of the feed's own sodium, 63 with 32 % protein; Yang and Kim 2020: 0.11 g for 1.53 of N
    ("salt builds up", "note", "courtyard", {("fish", "protein"): "40 %"}, {("fish", "protein"): "33 %"}),
    ("salt builds up", "note", "courtyard", {SALT: "2.5 g/kg"}, {SALT: "1.9 g/kg"}),
    # sodium: 41 g of alkalinity a day × 0.459 / 2.38 m³ = 7.9 mg/L a day; the limit of 70 is passed in nine
    ("salt builds up", "note", "courtyard", {("upkeep", "base"): "sodium bicarbonate"}, {}),
    ("salt builds up", "note", "courtyard", {CHLORIDE: "150 mg/L", ("plants", "crop"): "strawberry"}, {CHLORIDE: "140 mg/L", ("plants", "crop"): "strawberry"}),
    ("nitrite with too little chloride", "stop", "courtyard", {NITRITE: "2 mg/L", CHLORIDE: "19 mg/L"}, {NITRITE: "2 mg/L", CHLORIDE: "21 mg/L"}),
    # 0.4 mg/L of chlorine in 60, 70, 110 and 120 of 2,383 L: 0.0101, 0.0118, 0.0185, 0.0201 mg/L; EPA has 0.011 and 0.019
    # where the water comes from: a tenth of the system's 1.6 m³ at once; common practice, no source
    ("tap water of unknown treatment", "note", "courtyard", {ORIGIN: "tap"}, {ORIGIN: "tap", ("water", "disinfectant"): "chlorine"}),
    ("well water without air", "note", "courtyard", {ORIGIN: "well"}, {ORIGIN: "well", ("water", "rested"): True}),
    ("well water without air", "fix", "courtyard", {ORIGIN: "well", CHANGE: "400 L"}, {ORIGIN: "well", CHANGE: "40 L"}),
    ("water without minerals", "note", "courtyard", {ORIGIN: "reverse osmosis"}, {ORIGIN: "well"}),
    ("metals of the roof", "note", "courtyard", {ORIGIN: "rain"}, {ORIGIN: "rain", ("water", "rested"): True}),
    ("chlorine in tap water", "fix", "courtyard", {CHANGE: "70 L"}, {CHANGE: "60 L"}),
    ("chlorine in tap water", "stop", "courtyard", {CHANGE: "120 L"}, {CHANGE: "110 L"}),
    # the day's make-up alone: 3.34 m² of open water × 5 mm + 4.4 m² of beds × 2 mm is 25.5 L, which at 1.02 mg/L brings 0.0109
    ("chlorine in tap water", "fix", "courtyard", {("upkeep", "tap_chlorine"): "1.04 mg/L"}, {("upkeep", "tap_chlorine"): "1.02 mg/L"}),
    # weeks with fish, whose runs tests/test_cycling.py holds to print. New media: a fifth of 1.82 mg/L a day is 0.36, and the rest comes over six
    # weeks, while nitrite is eaten by nobody for four (SRAC 282: tilapia die at 5 mg/L; catfish bear 0.5 here, and 2.5 is danger). A finished
    # biofilm turns all: its share that comes along is what is safe of the load at once
    (TOO_MANY, "stop", "greenhouse", {SEED: None}, {SEED: "10 %"}),
    (TOO_MANY, "stop", "greenhouse", {SEED: None}, {SEED: None, ("upkeep", "start"): "with ammonia"}),
    (TOO_MANY, "fix", "greenhouse", {SEED: "10 %"}, {SEED: "20 %"}),
    (TOO_MANY, "fix", "greenhouse", {FIRST: "100 %"}, {FIRST: "70 %"}),
    (TOO_MANY, "fix", "greenhouse", {("upkeep", "ramp"): "0 days"}, {("upkeep", "ramp"): "42 days"}),
    (TOO_MANY, "note", "greenhouse", {SEED: "20 %"}, {}),  # only where the bacteria are slow
    # air. Courtyard after a meal at 28 °C: 68 g/d is 2.83 g/h; it stands at 6.15 mg/L; (6.15 − 3) mg/L of 1,078 L is 3.4 g, 72 min
    # of it, and a little more with what the surface brings
    ("oxygen time short", "stop", "courtyard", {**NO_SPARE, COMES: "80 min"}, {**NO_SPARE, COMES: "70 min"}),
    # the least that stones bring: 31 L/min × 16.5 g/h × 1 %/m × 0.6 m is 3.0 g/h, of it 0.30 on the way down from 6.15 to 3 mg/L:
    # 0.9 g/h; 3.4 g at 2.83 − 0.9 − 0.1 g/h last 110 min
    ("oxygen time short", "fix", "courtyard", {COMES: "120 min"}, {COMES: "100 min"}),
    ("oxygen time short", "note", "riser-too-thin", {}, {COMES: "10 min"}),  # nothing is said of air
    ("oxygen time short", "fix", "courtyard", {COMES: None}, {}),  # nothing is in time until somebody has said how soon he comes
    # 18 W at 12 V are 1.5 A; half of the label, and 0.8 of that when old (data/batteries.csv): 5 Ah last 80 min, 6 Ah 96; help comes after 90
    ("spare battery short", "fix", "courtyard", {BATTERY: "5 Ah"}, {BATTERY: "6 Ah"}),
    ("spare battery short", "note", "courtyard", {BATTERY: None}, {}),  # 7 Ah are taken: 112 min
    ("dirt in the fish tank", "note", "courtyard", {STAYS: "30 %"}, {STAYS: "0 %"}),
    ("dirt in the fish tank", "note", "courtyard", {STAYS: None}, {STAYS: None, fall("tank overflow", "intake"): "0.25 m"}),  # the floor is at 0.15 m
    # total gas 110 %: Washington Administrative Code 173-201A-200 (1)(f); pure oxygen adds 0.21 of what it has over 100 %: 148 %
    ("gas supersaturation", "note", "courtyard", {FULL: "112 %"}, {FULL: "109 %"}),
    ("gas supersaturation", "fix", "courtyard", {FULL: "150 %"}, {FULL: "145 %"}),
    # 700 L/h come in with 0.9 × 7.43 mg/L, 6.7; at 31 °C the fish take 152 mg/kg/h at least, and 1.4 times that after a meal, 2.53 g/h:
    # 6.7 − 2.53/0.7 is 3.1 mg/L, and 0.35 from stones and surface
    ("oxygen low at night", "fix", "air-stones-that-do-little", {}, {DENSITY: "15 kg/m3"}),  # 6.7 − 2.0/0.7 is 3.8, and 0.3
    ("oxygen low at night", "stop", "air-stones-that-do-little", {DENSITY: "26 kg/m3"}, {DENSITY: "20 kg/m3"}),  # 6.7 − 3.46/0.7 is 1.8, 6.7 − 2.66/0.7 is 2.9: danger is at 3 mg/L
    ("spare air on the mains", "fix", "courtyard", {("air", "backup_pump"): "demo mains 12 W air pump"}, {}),
    # its curve has 3 L/min at 9 kPa, none at 20; 1.6 m of water is 15.7 kPa, 1.4 m 13.7, and the stone 0.5 to 0.7; 30 % of 4.5 is 1.35 L/min
    ("air pump too weak for the depth", "fix", "small-air-pump-deep-barrel", {}, {HANGS: "1.4 m"}),
    ("air pump too weak for the depth", "stop", "small-air-pump-deep-barrel", {HANGS: "2.1 m"}, {HANGS: "1.9 m"}),  # 20.6 and 18.6 kPa
    ("air off the stones' range", "note", "courtyard", {("air", "stones"): 3}, {}),  # 50 L/min through 3 are 17, through 4 13; 15 is the most
    ("air off the stones' range", "note", "small-air-pump-deep-barrel", {}, {HANGS: "1.2 m"}),  # 1.05 and 2 L/min through 3; 0.5 is the least
    ("stones deeper than the water", "fix", "courtyard", {HANGS: "0.72 m"}, {HANGS: "0.68 m"}),  # 0.70 m of water
    # power. 12 V, 2.7 A: 0.36 V is 3 %; copper of 0.75 mm² at 75 °C has 2 × 26 × 1.216 = 63 mohm a metre, so 2.1 m
    ("wire drop", "fix", "bell-wire-to-the-pump", {("power", "wire_length"): "2.5 m"}, {("power", "wire_length"): "0.5 m"}),
    ("wire drop", "stop", "bell-wire-to-the-pump", {("power", "wire_length"): "8.5 m"}, {("power", "wire_length"): "7 m"}),  # 1.2 V at 2.4 A: 7.9 m
    ("wire drop", "stop", "bell-wire-to-the-pump", {("power", "wire_length"): "60 m"}, {("power", "wire_length"): "0.5 m"}),  # it stands
    ("wire drop", "note", "bell-wire-to-the-pump", {("power", "wire_length"): "1.8 m"}, {("power", "wire_length"): "1.8 m", fall("riser", "voltage"): "11.7 V"}),
    ("wire without a fuse it can carry", "stop", "lamp-cord-on-the-battery", {}, {("power", "wire"): "0.75 mm2 flexible"}),  # 2.9 A × 1.25: 4 A; BS 7671: 3 and 6
    # 60 °C wire by the US table bears 15 A × √(20/30) = 12.2 A in air of 40 °C and nothing lying on a roof of 73 °C (NEC 310.15(B)); the
    # pump's 2.9 A ask for a fuse of 4 A; 0.75 mm² of PVC, 6 A × √((70 − 57)/40) = 3.4 A in the sun, 5.2 in the shade
    ("wire without a fuse it can carry", "stop", "lamp-cord-on-the-battery", {("power", "wire"): "AWG 14 stranded", ("power", "wire_place"): "on a hot roof"}, {("power", "wire"): "AWG 14 stranded"}),
    ("wire without a fuse it can carry", "stop", "lamp-cord-on-the-battery", {("power", "wire"): "0.75 mm2 flexible", ("power", "wire_place"): "in the sun"}, {("power", "wire"): "0.75 mm2 flexible", ("power", "wire_place"): "in the shade"}),
    ("pump whose supply nobody has told", "fix", "panel-for-a-day-in-june", {("power",): None}, {}),
    ("battery that nothing fills", "fix", "lamp-cord-on-the-battery", {("power", "charger"): None}, {}),
    # 34.4 W day and night through a round trip of 95 % ask for 36.2 W: 3.02 A at 12 V
    ("battery that nothing fills", "stop", "lamp-cord-on-the-battery", {("power", "charger"): "2.9 A"}, {("power", "charger"): "3.1 A"}),
    ("battery that nothing fills", "note", "lamp-cord-on-the-battery", {("power", "generator"): "800 W"}, {}),
    ("battery that nothing fills", "stop", "panel-for-a-day-in-june", {("power", "capacity"): None}, {}),
    # a mains pump of 120 W takes 112 W at its point (its curve in data/pumps)
    ("inverter too small", "stop", "courtyard", {**ON_BATTERY, ("power", "inverter"): "140 W"}, {**ON_BATTERY, ("power", "inverter"): "300 W"}),
    # it runs from 18 V on; a cut-off at 17.5 V lets it stand first, one at 23 V does not
    ("pump stands before the battery is empty", "fix", "panel-for-a-day-in-june", {("power", "cut_off"): "17.5 V"}, {}),
    ("supply does not fit the pump", "stop", "twelve-volt-pump-on-two-batteries", {}, {("power", "voltage"): "12 V"}),
    ("supply does not fit the pump", "stop", "panel-for-a-day-in-june", {("power", "voltage"): "12 V"}, {("power", "voltage"): "19 V"}),  # it runs from 18
    # a 12 V battery on charge has 14.4 V (common practice, no source)
    ("supply does not fit the pump", "fix", "twelve-volt-pump-on-two-batteries", {("power", "voltage"): "15 V"}, {("power", "voltage"): "14.4 V"}),
    ("supply does not fit the pump", "note", "twelve-volt-pump-on-two-batteries", {PUMP: "demo mains 20 W submersible"}, {PUMP: "demo mains 20 W submersible", ("power", "always"): "5 W"}),
    # 70 Ah × 12 V × 0.8 × 0.8 × 0.97 (20 °C) over 35.2 W is 14.8 h; half of 29.6 h
    ("battery short", "fix", "starting-battery-for-the-night", {("power", "battery"): "LiFePO4", ("power", "autonomy"): "16 h"}, {("power", "battery"): "LiFePO4", ("power", "autonomy"): "14 h"}),
    ("battery short", "stop", "starting-battery-for-the-night", {("power", "battery"): "LiFePO4", ("power", "autonomy"): "31 h"}, {("power", "battery"): "LiFePO4", ("power", "autonomy"): "28 h"}),
    # 0.56 kWh/m²/d × 0.75 of 150 W is 63 Wh in a dark day, and 24 W day and night ask for 570; of 1,200 W, twice as steep, 700
    ("panel short in the dark weeks", "stop", "panel-for-a-day-in-june", {}, SUNNY),
    ("panel short in the dark weeks", "fix", "panel-for-a-day-in-june", {**SUNNY, ("power", "panel"): "800 W", ("power", "capacity"): "45 Ah"}, SUNNY),
    # 60 Ah × 0.5 1/h bear 30 A; 830 and 850 W × 0.8592 / 24 V are 29.7 and 30.4 A
    ("panel charges the battery too fast", "fix", "panel-for-a-day-in-june", {("power", "panel"): "850 W"}, {("power", "panel"): "830 W"}),
    # 2.83 g/h after a meal: 962 L/h of 6.94 mg/L hold 4.1 mg/L; alone, 1,078 L lose 2.6 mg/L an hour: 2.9 after 30 min, 3.3 after 20
    ("pump rests too long for the fish", "stop", "courtyard", {**NO_STONES, CONTROL: {"kind": "timer", "on": "30 min", "off": "30 min"}}, {**NO_STONES, CONTROL: {"kind": "timer", "on": "20 min", "off": "20 min"}}),
    # the stones hold the fish, but for the least that print has
    ("pump rests too long for the fish", "fix", "courtyard", {CONTROL: {"kind": "timer", "on": "12 h", "off": "12 h"}}, {CONTROL: {"kind": "timer", "on": "90 min", "off": "90 min"}}),
    ("lithium battery in the frost", "note", "bell-wire-to-the-pump", {("heat", "coldest_air"): "-1 degC"}, {("heat", "coldest_air"): "1 degC"}),
    # evaporation 118 W, to the air 99, lids 87, tops of beds 112, walls 9.84 m² × 0.99 W/m²/K × 14 K 136: 552 W
    ("heater short", "fix", "heater-of-an-aquarium", {("heat", "heater"): "540 W"}, {("heat", "heater"): "560 W"}),
    # 240 kg × 4186 × 31 K / 605 W × ln(31/22) is 4.9 h; 10 mm of foam leave 293 W: 10 h; 20 mm 237 W: 12.5 h
    # 15 A × 120 V × 80 % = 1,440 W; 10 A × 230 V = 2,300 W
    ("heaters need more than one socket", "note", "greenhouse", {("heat", "heater"): "1450 W"}, {("heat", "heater"): "1430 W"}),
    ("heaters need more than one socket", "note", "courtyard", {("heat", "heater"): "2310 W"}, {("heat", "heater"): "2290 W"}),
    ("water cools too fast in a power cut", "stop", "bare-barrel-in-the-wind", {}, {("heat", "insulation"): "10 mm"}),
    ("water cools too fast in a power cut", "fix", "bare-barrel-in-the-wind", {("heat", "insulation"): "10 mm"}, {("heat", "insulation"): "20 mm"}),
    # in the ground and in conduits: 32 mm pipe fills (32/47)² = 46 % of a duct, (32/43)² = 55 %; NEC chapter 9 table 1: 53, 31, 40 %
    ("mains beside water", "stop", "courtyard", duct(cables={"mains pump cord": 1}), duct()),
    ("cables beside water", "fix", "courtyard", duct(cables={"low voltage 12/2": 1}), duct(cables={"draw cord": 1})),
    ("mains cable shallow", "stop", "courtyard", cable(buried="29 cm"), cable(buried="31 cm")),  # NEC table 300.5: 12 in behind a GFCI
    ("mains cable shallow", "fix", "courtyard", cable(buried="44 cm"), cable(buried="45 cm")),  # 450 mm in plastic conduit
    ("mains cable shallow", "fix", "courtyard", cable(buried="44 cm"), cable()),
    ("conduit too full", "fix", "courtyard", duct(size=None, bore="43 mm"), duct(size=None, bore="45 mm")),
    # two cables of 12 mm: 31 % of 30.5 mm; three of them: 40 % of 32.9 mm
    ("conduit too full", "fix", "courtyard", *(cable(size="110 mm cable duct", bore=b, cables={"mains flex 3 x 1.5 mm2": 2}) for b in ("30 mm", "31 mm"))),
    ("conduit too full", "fix", "courtyard", *(cable(size="110 mm cable duct", bore=b, cables={"mains flex 3 x 1.5 mm2": 3}) for b in ("32.5 mm", "33.3 mm"))),
    ("conduit may jam", "note", "courtyard", *(cable(bore=b, cables={"mains flex 3 x 1.5 mm2": 3}) for b in ("38 mm", "39 mm"))),  # 3.2 · 12 mm
    ("conduit may jam", "note", "courtyard", *(cable(bore=b, cables={"mains flex 3 x 1.5 mm2": 3}) for b in ("34 mm", "33 mm"))),  # 2.8 · 12 mm
    ("conduit may jam", "note", "courtyard", *(cable(bore="36 mm", cables={"mains flex 3 x 1.5 mm2": n}) for n in (3, 4))),
    ("conduit bends too far", "fix", "courtyard", cable(bends="361 deg"), cable(bends="360 deg")),  # NEC 344.26, 352.26
    ("rigid pipe in a bent conduit", "fix", "courtyard", duct(bends="90 deg"), duct(bends="5 deg")),
    ("rigid pipe in a bent conduit", "fix", "courtyard", duct(bends="90 deg"), {**duct(bends="90 deg"), **HOSE}),
    ("buried above the frost", "fix", "courtyard", {DUG: "59 cm", FROST: "60 cm"}, {DUG: "61 cm", FROST: "60 cm"}),
    ("buried above the frost", "note", "courtyard", {DUG: "85 cm", FROST: "60 cm"}, {DUG: "91 cm", FROST: "60 cm"}),  # 12 in more: CPC 609.1
    ("buried above the frost", "fix", "courtyard", {DUG: "50 cm", FROST: "60 cm"}, {DUG: "50 cm", FROST: "60 cm", pipe("header", "frost"): "drained"}),
    ("buried above the frost", "note", "courtyard", {**duct(buried=None), FROST: "60 cm"}, {**duct(buried=None, frost="indoors"), FROST: "60 cm"}),
    ("frost depth not given", "note", "courtyard", {DUG: "70 cm"}, {DUG: "70 cm", FROST: "0 cm"}),
    ("frost depth not given", "note", "courtyard", {DUG: "70 cm"}, {DUG: "70 cm", ("heat", "coldest_air"): "10 degC"}),
    ("joint out of reach", "fix", "courtyard", {pipe("to bed 1", "buried"): "70 cm"}, {pipe("to bed 1", "buried"): "70 cm", pipe("to bed 1", "boxes"): 1}),
    ("joint out of reach", "fix", "courtyard", {pipe("riser", "buried"): "70 cm"}, {DUG: "70 cm"}),  # strainer, union, check valve; tee and elbow
    ("buried shallow", "note", "courtyard", {DUG: "29 cm"}, {DUG: "30 cm"}),  # 12 in: CPC 609.1
    ("deep trench", "note", "courtyard", {DUG: "1.08 m"}, {DUG: "1.06 m"}),  # with 32 mm of pipe and 10 cm of sand 1.2 m: OSHA, 4 ft
]  # fmt: skip

# A faulty build -> what it must show, what may come with it by nature, and the changes that mend it.
FAULTY = {
    "air-stones-that-do-little": ("oxygen low at night", None, {
        ("air", "pump"): "demo mains 35 W air pump", ("air", "stone"): "large air stone 100 mm", ("air", "stones"): 5,
        ("air", "depth"): "0.5 m", ("air", "backup_stones"): 4,
    }),
    "night-without-help": ("oxygen time short", None, {
        ("air", "backup_pump"): "demo battery 18 W air pump", ("air", "backup_stones"): 3, BATTERY: "40 Ah",
    }),
    "small-air-pump-deep-barrel": ("air pump too weak for the depth", None, {HANGS: "0.5 m"}),
    # what hangs on the mains leaves the fish without air when they fail
    "spare-on-the-same-socket": (
        "spare air on the mains", "oxygen time short", {("air", "backup_pump"): "demo battery 40 W air pump", ("air", "backup_stones"): 5, BATTERY: "50 Ah"},
    ),
    "all-fish-on-day-one": (TOO_MANY, None, {("upkeep", "first_share"): "20 %", SEED: "20 %"}),
    "bell-wider-than-its-water": ("siphon never starts", None, {("lines", "rush", "pipe", 0, "size"): "20 mm"}),
    "brackish-well": ("water too salty", None, {SALT: "2 g/kg"}),
    "carriers-that-lie-still": ("moving bed does not move", None, {("vessels", "blue drum", "air_flow"): "40 L/min"}),
    "channels-laid-level": ("channel badly laid", None, {("vessels", "gutters", "slope"): "2 %"}),
    "chloramine-aired-away": ("chlorine in tap water", None, {("upkeep", "tap_chlorine"): "0 mg/L"}),
    "dirt-between-the-roots": (
        "nothing takes out solids", None, {("vessels", "first barrel", "kind"): "filter", ("vessels", "first barrel", "does"): "radial flow"},
    ),
    "lettuce-that-cannot-breathe": (
        "roots short of oxygen", None, {("vessels", "long boards", "air_stones"): 2, ("vessels", "long boards", "air_flow"): "8 L/min"},
    ),
    "pipe-that-climbs-over-the-door": ("branch without water", None, {("lines", "upper tank drain", "pipe", 4, "crown"): "0.6 m"}),
    "swirl-filter-overrun": ("solids rise with the water", None, {("vessels", "cone", "diameter"): "24 in"}),
    "tanks-joined-by-a-hose": ("drain short", None, {fall("link", "bore"): "50 mm"}),
    "too-many-channels-for-the-pump": ("channel flow off", None, {("vessels", "troughs", "count"): 6}),
    # the second kind also wants more oxygen than the plan leaves
    "trout-beside-tilapia": ("temperature out of range", ("outlet oxygen low", "oxygen time short"), {("stocks", "second kind", "species"): "common carp"}),
    "two-groups-at-once": ("season too dense", None, {("season", "stocks", "spring", "leaves"): "15 September"}),
    "ammonia-limit-that-poisons": ("un-ionised ammonia high", None, {("water", "ammonia_limit"): "0.4 mg/L"}),
    "bare-barrel-in-the-wind": ("water cools too fast in a power cut", None, {("heat", "insulation"): "50 mm", ("heat", "covered"): "90 %"}),
    "bell-wire-to-the-pump": ("wire drop", None, {("power", "wire"): "6 mm2 flexible"}),
    "heater-of-an-aquarium": ("heater short", None, {("heat", "heater"): "700 W"}),
    "lamp-cord-on-the-battery": ("wire without a fuse it can carry", None, {("power", "wire"): "1.5 mm2 flexible"}),
    "panel-for-a-day-in-june": ("panel short in the dark weeks", None, SUNNY),
    "starting-battery-for-the-night": ("battery short", None, {("power", "battery"): "LiFePO4", ("power", "capacity"): "80 Ah"}),
    "twelve-volt-pump-on-two-batteries": ("supply does not fit the pump", None, {("power", "voltage"): "12 V"}),
    "bed-too-shallow": ("bed too shallow", None, {("vessels", "tray", "height"): "0.36 m", ("vessels", "tray", "media_depth"): "0.3 m", ("vessels", "tray", "floor"): "0.57 m"}),
    "bicarbonate-used-up": ("alkalinity running out", None, {("upkeep", "alkalinity"): "100 mg/L"}),
    "drain-no-wider-than-the-riser": ("drain short", None, {fall("tank drain", "size"): "3 in"}),
    "far-bed-starved": ("bed shares uneven", None, {
        pipe("header 1", "size", "main"): "40 mm", pipe("header 2", "size", "main"): "40 mm", pipe("header 3", "size", "main"): "32 mm",
    }),
    "flat-drain": ("drain has no fall", None, {fall("tank to settler", "outlet"): "39.8 in"}),
    "float-that-chatters": ("float chatters", None, {
        ("vessels", "bucket", "diameter"): "24 in", fall("bed loop", "control"): {"kind": "float", "on_depth": "13 in", "off_depth": "4 in"},
    }),
    "gravel-bed-on-a-deck": ("load over floor rating", None, {("vessels", "berry bed", "medium"): "expanded clay 8-16 mm"}),
    "lift-left-out": ("lift left out", None, {fall("roof loop", "chosen_head"): "3.3 m"}),
    "nitrite-in-soft-water": ("nitrite with too little chloride", None, {("upkeep", "chloride"): "60 mg/L"}),
    "one-way-out": ("no overflow path", None, {("lines", "second tank overflow"): {
        "kind": "overflow", "from": "glass tank", "to": "sump", "lip": "1.10 m", "outlet": "0.45 m", "size": "63 mm", "length": "1.2 m", "emergency": True,
    }}),
    # once it pulls, all of the tank goes into the sump and over its rim
    "overflow-that-sucks-the-tank-down": (
        "overflow can siphon", {"fish tank falls below a safe depth", "spills while running", "pump runs dry"}, {fall("overflow", "size"): "75 mm"},
    ),
    # a leak in a joint and a chafed cable make live water; the cable gets a duct of its own beside it
    "one-duct-for-all": ("mains beside water", None, {
        ("conduits", "path duct", "cables"): None,
        ("conduits", "second duct"): {"size": "50 mm cable duct", "length": "2.2 m", "buried": "70 cm", "cables": {"mains flex 3 x 1.5 mm2": 1}},
    }),
    "nothing-stops-the-second-pump": ("pump runs dry", None, {fall("bed line", "control"): {"cut_out_depth": "15 cm"}}),
    # what runs back is more than the tub holds, and what is lost is missing at the start
    "pipe-end-under-water": (
        "tank drains back through the pump line", {"sump overflows on power cut", "pump runs dry on start"}, {pipe("to the tank", "outlet"): "0.95 m"},
    ),
    "second-pump-in-the-fish-tank": (
        "fish tank falls below a safe depth", {"spills when a pump or siphon fails", "pump runs dry"}, {fall("bench line", "control"): {"cut_out_depth": "45 cm"}},
    ),
    "siphon-into-a-small-bucket": ("spills while running", {"pump runs dry"}, {("vessels", "bucket", "length"): "1.5 m", ("vessels", "bucket", "width"): "0.9 m"}),
    "sump-with-nothing-to-spare": ("sump overflows on power cut", {"pump runs dry"}, {("vessels", "tub", "length"): "0.9 m", ("vessels", "tub", "width"): "0.7 m"}),
    "upper-sump-with-one-way-out": ("spills when a pump or siphon fails", {"pump runs dry"}, {("lines", "upper overflow"): {
        "kind": "overflow", "from": "upper sump", "to": "low sump", "lip": "0.88 m", "outlet": "0.0 m", "size": "90 mm", "length": "1.5 m", "vented": True,
    }}),
    # a pump too weak for the lift also leaves the tank short
    "pump-chosen-at-zero-head": ("pump short at real head", "flow short of turnover", {fall("riser", "pump"): "demo mains 45 W submersible"}),
    "pump-that-draws-air": ("pump draws air", None, {fall("main", "control"): {"kind": "float", "on_depth": "9 in", "off_depth": "5 in"}}),
    # water so fast also strikes hard when it stops
    "riser-too-thin": ("pipe too fast", "hammer pressure over rating", {pipe("riser", "size"): "50 mm"}),
    "screen-that-pins-fish": ("screen too fast", None, {fall("tank overflow", "screen_open_area"): "60 cm2"}),
    "siphon-that-dribbles": ("siphon never starts", None, {
        fall("bed siphon", "size"): None, fall("bed siphon", "bore"): "13 mm",
        pipe("to the barrel", "bore"): "13 mm", pipe("to the bed", "bore"): "19 mm", pipe("to the bed", "share"): 0.45, pipe("to the barrel", "share"): 0.55,
    }),
    "siphon-that-never-stops": ("siphon never stops", None, {
        fall("bed siphon", "size"): "25 mm", fall("bed siphon", "outlet"): "0 m", ("vessels", "sump", "height"): "0.65 m",
    }),
    "suction-throttled": ("suction throttled", None, {("lines", "main", "suction", "suction pipe", "opening"): 1.0}),
    "tap-water-straight-from-the-hose": ("chlorine in tap water", None, {("upkeep", "tap_chlorine"): "0 mg/L"}),
    "timer-too-short": ("timer too short", "flow short of turnover", {fall("riser", "control"): {"kind": "timer", "on": "40 min", "off": "20 min"}}),
    "too-little-media": ("biofilter short", None, {("vessels", "filter tub", "medium"): "bioballs"}),
    "too-many-fish": ("density over limit", None, {("fish", "density"): "15 kg/m3"}),
    "trout-in-warm-water": ("temperature out of range", None, {("site", "warmest_water"): "63 degF"}),
    "valve-nearly-shut": ("valve nearly shut", None, {
        key: value for spout in ("spout 1", "spout 2")
        for key, value in ((pipe(spout, "size", "main"), "1 in"), (pipe(spout, "opening", "main"), 0.5))
    }),
}  # fmt: skip


def made(base, changes):
    return load(base).changed(changes) if changes else load(base)


_SEEN, _SOLVED = {}, {}


def seen(base, changes):
    """The review of a build with changes; made once."""
    key = (base, repr(changes))
    if key not in _SEEN:
        _SEEN[key] = review(made(base, changes))
    return _SEEN[key]


# through time, too, are the weeks of bacteria, which need no water that runs
THROUGH_TIME = set(findings.names(through_time=True)) - {TOO_MANY, "alkalinity of the start"}


def severities(base, changes, name):
    """Of one finding; water is run through time only for those that need it, as on a page while a slider moves."""
    if name in THROUGH_TIME:
        return {f.severity for f in seen(base, changes).findings if f.name == name}
    key = (base, repr(changes))
    system = _SOLVED[key] = _SOLVED.get(key) or Steady(made(base, changes))
    looks = [check.look for check in CHECKS if check.name == name]
    return {severity for look in looks for severity, *_ in look(system, lambda kind, value: kind.text(value, system.build.units))}


def row_id(row):
    return f"{row[0]} ({row[1]}, {row[2]})"


@pytest.mark.parametrize(("name", "severity", "base", "trips", "neighbour"), BOTH_SIDES, ids=[row_id(r) for r in BOTH_SIDES])
def test_both_sides(name, severity, base, trips, neighbour):
    assert severity in severities(base, trips, name)
    assert severity not in severities(base, neighbour, name)


def test_no_finding_is_without_both_sides():
    rows = {row[0] for row in BOTH_SIDES}
    assert rows == set(findings.names()) - {"water does not settle"}  # of 2,000 random builds none trips it; see test_in_time
    for name in rows:  # some neighbour of each shows nothing of that name at all
        assert any(row[0] == name and not severities(row[2], row[4], name) for row in BOTH_SIDES), name


def test_no_topic_is_left_out_when_another_is_imported_first():
    """A what-if imports the limits of one topic before anything is looked for."""
    told = "from aquaplumb.review.findings import pumping, names; print(*names(), sep='\\n')"
    shown = subprocess.run([sys.executable, "-c", told], capture_output=True, text=True, check=True, encoding="utf-8")
    assert shown.stdout.splitlines() == findings.names()


def test_names_are_said_once():
    assert len(set(findings.names())) == len(findings.names())


@pytest.mark.parametrize("name", demos())
def test_a_demo_build_is_sound(name):
    assert seen(name, {}).sound
    assert not [f for f in seen(name, {}).findings if f.severity in ("stop", "fix")]


def test_every_faulty_build_is_listed_here():
    assert sorted(FAULTY) == demos(faulty=True)


@pytest.mark.parametrize("name", sorted(FAULTY))
def test_a_faulty_build_shows_its_fault_and_nothing_unrelated(name):
    fault, by_nature, _ = FAULTY[name]
    shown = {f.name for f in seen(name, {}).findings if f.severity in ("stop", "fix")}
    assert fault in shown
    assert shown <= {fault, *([by_nature] if isinstance(by_nature, str) else by_nature or ())}


@pytest.mark.sweep(20)
@pytest.mark.parametrize("name", sorted(FAULTY))
def test_a_faulty_build_is_sound_once_its_fault_is_mended(name):
    assert [f.name for f in seen(name, FAULTY[name][2]).findings if f.severity in ("stop", "fix")] == []


@pytest.mark.parametrize("name", sorted(FAULTY))
def test_a_faulty_build_does_not_tell_its_fault(name):
    build = load(name)
    told = {"a", "the", "that", "to", "in", "on", "at", "of", "no", "than", "down", "out", "left", "one", "too"}
    words = set(name.split("-")) - told
    said = set(re.findall(r"[a-z]+", build.about.lower() + " " + build.title.lower()))
    assert len(words & said) < max(2, len(words)), f"{words & said} of the file's name stand in the title or about"
    assert FAULTY[name][0] not in (build.title + build.about).lower()


# --- how they are said -----------------------------------------------------------------------------

ALL = [(name, {}) for name in (*demos(), *FAULTY)]
ALL += [(row[2], row[3]) for row in BOTH_SIDES]
IDS = [*demos(), *FAULTY, *(f"{row_id(row)} {place}" for place, row in enumerate(BOTH_SIDES))]
SI = re.compile(r"\d (?:m|mm|cm|m/s|L|L/h|kg|g|kPa|m²|cm²|kN/m²|m²/m³|°C|kg/m³|g/m²/d)(?![\w/²³])")
US = re.compile(r"\d (?:ft|in|ft/s|gal|gal/h|lb|oz|oz/d|psi|ft²|in²|psf|ft²/ft³|°F|lb/gal|oz/ft²/d)(?![\w/²³])")


def things(build):
    """Every name that a finding may point at."""
    stretches = {p.si.name for line in build.pumped.values() for p in (*line.si.suction, *line.si.pipe)}
    return {
        *build.vessels,
        *build.lines,
        *build.falling,
        *build.conduits,
        *stretches,
        kinds_in_words(build.growing) or "beds",
        "fish tank",
        "battery",
        "heater",
        *(" › ".join(key for key in keys if isinstance(key, str)) for keys in build.unusual),
    }


@pytest.mark.sweep(60)
@pytest.mark.parametrize(("base", "changes"), ALL, ids=IDS)
def test_a_finding_says_what_where_and_how(base, changes):
    build = seen(base, changes).build
    for f in seen(base, changes).findings:
        assert f.severity in SEVERITIES
        assert f.where in things(build)
        assert re.search(r"\d", f.sentence) or f.where in f.sentence or f.where == kinds_in_words(build.growing), f.sentence
        assert f.sentence.endswith("?" if "Did you mean" in f.sentence else ".") and f.cure.endswith("."), f
        assert (
            f.sentence[0].isupper()
            or f.sentence[0].isdigit()
            or any(f.sentence.startswith(t) for t in things(build) | {build.pumped[n].si.pump for n in build.pumped})
        )
        assert re.fullmatch(r"0\d|1[0-3]", f.notebook) or (f.name, f.notebook) == ("unusual value", "")
        assert not re.search(r"\bnan\b|\binf\b|None|\de[-+]?\d", f.sentence + f.cure), f
        assert len(f.sentence) < 260


def _without_the_files_words(told):
    """A review as text; what is odd about a number says it in the unit that the file has."""
    text = str(told)
    for odd in set(told.build.unusual.values()):
        assert odd in text
        text = text.replace(odd, "")
    return text


@pytest.mark.sweep(60)
@pytest.mark.parametrize(("base", "changes"), ALL, ids=IDS)
def test_units_are_the_builds_own(base, changes):
    said, about = {}, seen(base, changes).build.about  # a person's own words may hold any unit
    for units in ("US", "metric"):
        told = seen(base, changes)
        if units != told.build.units:
            build = copy.copy(told.build)
            vars(build)["units"] = units
            told = review(build)
        # a size of pipe has one name in every shop, whatever the build's units, and so has a stone
        said[units] = re.sub(
            r"[\d /]+ (?:mm|in) (?:(?:Sch|SDR|PN) ?\d+|cable duct|PVC conduit)|(?:stone|disc|tube|ring)s?(?: disc)? \d+ mm",
            "a size",
            _without_the_files_words(told),
        )
    us, metric = said["US"], said["metric"]
    assert not SI.findall(us.replace(about, ""))
    assert not re.search(r"feed on the heaviest day +[\d.,]+ g/d", us)  # only oxygen is weighed in grams everywhere
    assert not US.findall(metric.replace(about, ""))
    assert US.search(us) and SI.search(metric)


def test_sockets_are_protected_as_the_country_has_it():
    for name, heater, own, other in (("courtyard", "2310 W", "RCD, 30 mA", "GFCI"), ("greenhouse", "1450 W", "class A GFCI, 5 mA", "RCD")):
        [told] = [f for f in seen(name, {("heat", "heater"): heater}).findings if f.name == "heaters need more than one socket"]
        assert own in told.cure and other not in told.cure
        wet = {("site", "socket"): ["1 m", "1 m"], ("vessels", "fish tank", "at"): ["2 m", "2 m"]}
        [told] = [f for f in seen(name, wet).findings if f.name == "socket within splash"]
        assert shock_protection(load(name).units) in told.cure and other not in told.cure


def test_shut_valves_are_not_blamed_on_the_pump():
    [told] = [f for f in seen(*ALL_SHUT).findings if f.name == "pump short at real head"]
    assert "valves are shut" in told.sentence
    [told] = [f for f in seen("courtyard", {PUMP: "demo mains 8 W submersible"}).findings if f.name == "pump short at real head"]
    assert "lifts water 1.3 m at most" in told.sentence  # the first point of its curve


def test_the_hole_that_lets_air_in_is_where_and_as_wide_as_the_pages_say():
    """Its cure tried as it stands: a third of the bore, in the air just above the usual water; nothing drains back then."""
    [told] = [f for f in seen("pipe-end-under-water", {}).findings if f.name == "tank drains back through the pump line"]
    assert "just above the usual water and inside" in told.cure
    drill, height = re.search(r"a hole of (\d+) mm in it at ([\d.]+ m)", told.cure).groups()
    build = seen("pipe-end-under-water", {}).build
    [end] = [p for p in build.pumped["riser"].si.pipe if p.si.to == told.where]
    assert float(drill) == pytest.approx(1000 * end.si.bore / 3, abs=1)
    vessel = build.vessels[told.where]
    assert vessel.level < float(height.split()[0]) < vessel.rim
    mended = seen("pipe-end-under-water", {pipe("to the tank", "break_hole"): height})
    assert not [f for f in mended.findings if f.name == told.name]
    for page in ("05-fittings-and-lift", "08-pump-choice", "09-levels-and-power-cuts"):
        said = (Path(__file__).parents[1] / "notebooks" / f"{page}.ipynb").read_text(encoding="utf-8")
        assert "6 mm hole" not in said and "a third as wide as the pipe" in said and "just under the usual" not in said


def test_of_a_milder_finding_and_a_worse_one_that_time_shows_the_worse_stays(monkeypatch):
    """One and the same name and place, seen at rest as a note and through time as a stop; and the other way round."""
    from aquaplumb.review.findings import base

    for now, in_time in (("note", "stop"), ("stop", "note"), ("fix", "fix")):

        def one(severity):
            return lambda system, say: [(severity, "tank", f"{severity}.", "Mend it.")]

        checks = [("twice", "06", one(now), False), ("twice", "09", one(in_time), True)]
        monkeypatch.setattr(aquaplumb.review.findings, "_CHECKS", checks)
        [told] = findings.found(Steady(load("courtyard")), through_time=True)
        assert told.severity == min(now, in_time, key=base.SEVERITIES.index) and told.notebook == ("09" if told.severity != now else "06")


def test_worst_comes_first():
    order = [SEVERITIES.index(f.severity) for f in seen("courtyard", {DENSITY: "61 kg/m3"}).findings]
    assert order == sorted(order) and len(set(order)) > 1


# --- thresholds -------------------------------------------------------------------------------------

TOPICS = sorted(p for p in Path(aquaplumb.review.findings.__file__).parent.glob("*.py") if p.name != "__init__.py")


@pytest.mark.parametrize("path", TOPICS, ids=lambda p: p.stem)
def test_a_threshold_has_a_name_and_says_where_it_is_from(path):
    text = path.read_text(encoding="utf-8")
    tree, lines = ast.parse(text), text.split("\n")
    named = [
        n
        for n in tree.body
        if isinstance(n, ast.Assign) and any(isinstance(c, ast.Constant) and isinstance(c.value, float) for c in ast.walk(n.value))
    ]
    for node in named:
        assert "#" in lines[node.lineno - 1] or lines[node.lineno - 2].lstrip().startswith(("#", "_")), lines[node.lineno - 1]
    for compare in (n for n in ast.walk(tree) if isinstance(n, ast.Compare)):
        bare = [
            c.value
            for side in (compare.left, *compare.comparators)
            for c in ast.walk(side)
            if isinstance(c, ast.Constant) and isinstance(c.value, float)
        ]
        assert not [b for b in bare if b not in (0.0, 1.0)], f"{path.name}, line {compare.lineno}: give the threshold a name and its source"


@pytest.mark.parametrize("name, densities", [("courtyard", ["60 kg/m³", "20 kg/m³"]), ("greenhouse", ["0.5 lb/gal", "0.16 lb/gal"])])
def test_a_density_that_a_cure_names_is_one_that_a_person_types(name, densities):
    """It said 0.166 lb/gal for a sixth of a pound. Typed as it stands each clears what it is named for; the weight beside it is the same."""
    build = load(name)
    dense = build.changed({("fish", "density"): "61 kg/m3"})
    [found] = [f for f in review(dense).findings if f.name == "density over limit"]
    assert re.findall(r"([\d.]+ (?:kg/m³|lb/gal)) or less", found.cure) == densities
    severities = [
        [f.severity for f in review(dense.changed({("fish", "density"): typed})).findings if f.name == "density over limit"]
        for typed in densities
    ]
    assert severities in ([["fix"], []], [["note"], []])
    weights = [float(weight) for weight in re.findall(r": ([\d.]+) (?:kg|lb) \(", found.cure)]
    volume = float(re.search(r"in its ([\d,.]+) (?:L|gal)", found.cure)[1].replace(",", "")) * (1e-3 if "kg" in found.cure else 1.0)
    assert weights == pytest.approx([float(typed.split()[0]) * volume for typed in densities], rel=0.01)
