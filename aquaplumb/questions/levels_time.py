"""Questions of notebook 09: what happens when the power fails?"""

from __future__ import annotations

from aquaplumb.questions.quiz import Order, Pick, Question, Quiz
from aquaplumb.units import u

FAULTY = "sump-with-nothing-to-spare"  # the build of "What is wrong here?"; the page calls it by its number


def guess(learner: str = "", units: str = "metric") -> Pick:
    """To answer before looking."""
    little = "an inch" if units == "US" else "two or three centimetres"
    return Pick(
        f"Two beds full of water, a fish tank, and below them a sump of {'19.4 ft²' if units == 'US' else '1.8 m²'}. The power fails, and nothing is pumped any more. What does "
        "the water in the sump do?",
        {
            "it stays where it is": "Nothing comes out any more, but a lot still goes in. Look at the blue line when the power goes off.",
            f"it rises by {little}: what was in the pipes": "The pipes hold little. Look at what the beds do in the picture below.",
            "it rises by a hand or more: the beds empty into it": "",
        },
        answer="it rises by a hand or more: the beds empty into it",
        why="All that stands above a lip or a vent comes down, and the sump is where it ends.",
        learner=learner,
        gate=True,
    )


def quiz(learner: str = "", units: str = "metric") -> Quiz:
    """Five questions; numbers differ by the learner's name."""
    us = units == "US"
    volume, small, wide, said = ("gal", "in", 3 * u.ft, "3 ft") if us else ("L", "cm", 0.8 * u.m, "0.8 m")
    area, comes, goes = (9 * u.ft**2, 260 * u.gal / u.h, 790 * u.gal / u.h) if us else (0.8 * u.m**2, 1000 * u.L / u.h, 3000 * u.L / u.h)
    tank, into, out, less = ("9 ft²", "260 gal/h", "790 gal/h", "530 gal/h") if us else ("0.8 m²", "1,000 L/h", "3,000 L/h", "2,000 L/h")
    return Quiz(
        "09 Levels and power cuts",
        [
            Question(
                "The power fails. Two beds of {area} each fall by {fall}; 40 % of a bed is water, the rest stones. How much water comes down?",
                answer=lambda area, fall: (2 * area * fall * 0.40).to(volume),
                draw={"area": ("16 ft2", "32 ft2", "4 ft2") if us else ("1.5 m**2", "3 m**2", "0.5 m**2"), "fall": ("6 in", "10 in", "2 in") if us else ("15 cm", "25 cm", "5 cm")},
                slips=[(lambda area, fall: (2 * area * fall).to(volume), "That counts the stones as water."),
                       (lambda area, fall: (area * fall * 0.40).to(volume), "There are two beds.")],
                hint="Area × fall × the part that is water; twice. " + ("A cubic foot is 7.48 gal." if us else "A cubic metre is 1,000 L."),
                worked="2 × {area} × {fall} × 0.40 = {answer}.",
                why="Often this is more than a beginner's sump has room for.",
                learner=learner,
            ),
            Question(
                f"{{water}} come down into a sump {{length}} long and {said} wide. How far does its water rise?",
                answer=lambda water, length: (water / (length * wide)).to(small),
                draw={"water": ("50 gal", "110 gal", "10 gal") if us else ("200 L", "400 L", "40 L"), "length": ("3.5 ft", "6.5 ft", "0.5 ft") if us else ("1 m", "2 m", "0.5 m")},
                slips=[(lambda water, length: (water / (length * (u.ft if us else u.m))).to(small), f"Its width is {said}, not 1 {'ft' if us else 'm'}.")],
                hint="Volume divided by area; bring " + ("the gallons to cubic feet first: 7.48 gal each." if us else "the litres to cubic metres first."),
                worked=f"{{water}} / ({{length}} × {said}) = {{answer}}.",
                why="That much has to be free over the highest level of a usual day.",
                learner=learner,
            ),
            Question(
                f"A float switch sits in a tank of {tank}. {into} come in; its pump takes out {out}. Between the depths at which it turns "
                "on and off lie {apart}. How long does the pump run each time?",
                answer=lambda apart: (area * apart / (goes - comes)).to("min"),
                draw={"apart": ("4 in", "12 in", "2 in") if us else ("10 cm", "30 cm", "5 cm")},
                slips=[(lambda apart: (area * apart / goes).to("min"), f"Water goes on coming in while the pump runs: the tank loses {less}.")],
                hint="How much water lies between the two depths? It goes down by what leaves less what comes.",
                worked=f"{tank} × {{apart}} is the water between; divided by {less} it is {{answer}}.",
                why="Depths too close together wear out pump and switch: a small pump bears some six starts an hour (common practice, no source).",
                learner=learner,
            ),
            Order(
                "A power cut at night, from its beginning:",
                [
                    "the pump stops; the check valve shuts",
                    "the fish tank runs down to its overflow's lip",
                    "the beds are down at their vents, the sump is at its highest",
                    "the fish have used up the oxygen in their water",
                ],
                hint="The tank has little over its lip; a bed takes about a quarter of an hour; oxygen lasts longer than that, but not for a night.",
                worked="pump, tank, beds, oxygen.",
                why="The floor is at risk in the first quarter of an hour, the fish after it. How long they have is page 10's question.",
                learner=learner,
            ),
            Pick(
                f"The pipe into a fish tank ends {'16 in' if us else '40 cm'} under water, so that it does not splash. Which words would you give its builder?",
                {
                    "good: it is quiet": "It is, until the pump stops: then the tank may siphon back through that pipe, down to its end.",
                    "add a check valve, and all is well": "That helps, until a snail shell or a hair keeps it open. It must not be all there is.",
                    "end it above the water, or bore a hole in it just above the usual level, inside the tank": "",
                    "use a wider pipe": "A wider pipe siphons faster.",
                },
                answer="end it above the water, or bore a hole in it just above the usual level, inside the tank",
                hint="What lets air into that pipe when the pump stands still?",
                worked="air that comes in through the hole, or through an end in the open, breaks the siphon while the tank is nearly full.",
                why="Clean that hole: algae grow it shut. A check valve is the second line of defence, not the first.",
                learner=learner,
            ),
        ],
        learner=learner,
    )  # fmt: skip


def fault(learner: str = "", units: str = "metric") -> Pick:
    """What is wrong with the build named in `FAULTY`?"""
    falls, room, come = ("half an inch", "3 gal", "8 gal") if units == "US" else ("about a centimetre", "12 L", "30 L")
    return Pick(
        "Read its two runs. With nothing broken the tub is as calm as can be. What did the builder get wrong?",
        {
            "the pump has no check valve": "It has one. What comes down does not come through the pump's pipe.",
            "the tub is too small for what comes down": "",
            "the trough's overflow is too narrow": "The trough never rises to its rim, and stands still when the power is off.",
        },
        answer="the tub is too small for what comes down",
        hint="How much room is free in the tub, and how far do trough and bed fall when the power goes?",
        worked=f"trough and bed fall by {falls} only, but they are wide and the tub is narrow: it has room for {room}, and {come} come.",
        why="Thin sheets of water over wide vessels add up. A wider tub, or less water in it, would do.",
        learner=learner,
    )
