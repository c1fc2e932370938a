"""Questions of notebook 09: what happens when the power fails?"""

from __future__ import annotations

from aquaplumb.questions.quiz import Order, Pick, Question, Quiz
from aquaplumb.units import u

FAULTY = "sump-with-nothing-to-spare"  # the build of "What is wrong here?"; the page calls it by its number


def guess(learner: str = "") -> Pick:
    """To answer before looking."""
    return Pick(
        "Two beds full of water, a fish tank, and below them a sump of 1.8 m². The power fails, and nothing is pumped any more. What does "
        "the water in the sump do?",
        {
            "it stays where it is": "Nothing comes out any more, but a lot still goes in. Look at the blue line when the power goes off.",
            "it rises by two or three centimetres: what was in the pipes": "The pipes hold little. Look at what the beds do in the picture below.",
            "it rises by a hand or more: the beds empty into it": "",
        },
        answer="it rises by a hand or more: the beds empty into it",
        why="All that stands above a lip or a vent comes down, and the sump is where it ends.",
        learner=learner,
        gate=True,
    )


def quiz(learner: str = "") -> Quiz:
    """Five questions; numbers differ by the learner's name."""
    return Quiz(
        "09 Levels and power cuts",
        [
            Question(
                "The power fails. Two beds of {area} each fall by {fall}; 40 % of a bed is water, the rest stones. How much water comes down?",
                answer=lambda area, fall: (2 * area * fall * 0.40).to("L"),
                draw={"area": ("1.5 m**2", "3 m**2", "0.5 m**2"), "fall": ("15 cm", "25 cm", "5 cm")},
                slips=[(lambda area, fall: (2 * area * fall).to("L"), "That counts the stones as water."),
                       (lambda area, fall: (area * fall * 0.40).to("L"), "There are two beds.")],
                hint="Area × fall × the part that is water; twice. A cubic metre is 1,000 L.",
                worked="2 × {area} × {fall} × 0.40 = {answer}.",
                why="Often this is more than a beginner's sump has room for.",
                learner=learner,
            ),
            Question(
                "{water} come down into a sump {length} long and 0.8 m wide. How far does its water rise?",
                answer=lambda water, length: (water / (length * 0.8 * u.m)).to("cm"),
                draw={"water": ("200 L", "400 L", "40 L"), "length": ("1 m", "2 m", "0.5 m")},
                slips=[(lambda water, length: (water / (length * u.m)).to("cm"), "Its width is 0.8 m, not 1 m.")],
                hint="Volume divided by area; bring the litres to cubic metres first.",
                worked="{water} / ({length} × 0.8 m) = {answer}.",
                why="That much has to be free over the highest level of a usual day.",
                learner=learner,
            ),
            Question(
                "A float switch sits in a tank of 0.8 m². 1,000 L/h come in; its pump takes out 3,000 L/h. Between the depths at which it turns "
                "on and off lie {apart}. How long does the pump run each time?",
                answer=lambda apart: (0.8 * u.m**2 * apart / (2000 * u.L / u.h)).to("min"),
                draw={"apart": ("10 cm", "30 cm", "5 cm")},
                slips=[(lambda apart: (0.8 * u.m**2 * apart / (3000 * u.L / u.h)).to("min"), "Water goes on coming in while the pump runs: the tank loses 2,000 L/h.")],
                hint="How much water lies between the two depths? It goes down by what leaves less what comes.",
                worked="0.8 m² × {apart} is the water between; divided by 2,000 L/h it is {answer}.",
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
                "The pipe into a fish tank ends 40 cm under water, so that it does not splash. Which words would you give its builder?",
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


def fault(learner: str = "") -> Pick:
    """What is wrong with the build named in `FAULTY`?"""
    return Pick(
        "Read its two runs. With nothing broken the tub is as calm as can be. What did the builder get wrong?",
        {
            "the pump has no check valve": "It has one. What comes down does not come through the pump's pipe.",
            "the tub is too small for what comes down": "",
            "the trough's overflow is too narrow": "The trough never rises to its rim, and stands still when the power is off.",
        },
        answer="the tub is too small for what comes down",
        hint="How much room is free in the tub, and how far do trough and bed fall when the power goes?",
        worked="trough and bed fall by about a centimetre only, but they are wide and the tub is narrow: it has room for 12 L, and 30 L come.",
        why="Thin sheets of water over wide vessels add up. A wider tub, or less water in it, would do.",
        learner=learner,
    )
