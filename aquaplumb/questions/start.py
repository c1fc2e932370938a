"""Questions of notebook 00: what to build, and where."""

from __future__ import annotations

from aquaplumb.questions.quiz import GRAVITY, Order, Pick, Question, Quiz
from aquaplumb.units import u

FAULTY = "one-way-out"  # the build of "What is wrong here?"; the page calls it by its number


def guess(learner: str = "") -> Pick:
    """To answer before looking."""
    return Pick(
        "A fish tank, two beds of plants, one pump. In which vessel do you put the pump?",
        {
            "in the fish tank": "Then the tank would empty itself into the beds whenever a drain blocks. Look at the drawing below.",
            "in the lowest vessel of all": "",
            "in the highest bed": "Water comes up to a bed only because a pump below it lifts it. Look at the drawing below.",
        },
        answer="in the lowest vessel of all",
        why="All water falls to the lowest vessel by itself; one pump there lifts it once, and that is enough.",
        learner=learner,
        gate=True,
    )


def quiz(learner: str = "", units: str = "metric") -> Quiz:
    """Four questions; numbers differ by the learner's name."""
    us = units == "US"
    mass, pressure = ("lb", "psf") if us else ("kg", "kN/m**2")
    each = "8.34 lb/gal" if us else "1 kg/L"
    return Quiz(
        "00 Start here",
        [
            Question(
                f"A tank holds {{water}} of water. What does that water weigh?{' (A gallon weighs 8.34 lb.)' if us else ''}",
                answer=lambda water: (water * (1 * u.kg / u.L)).to(mass),
                draw={"water": ("100 gal", "400 gal", "25 gal") if us else ("400 L", "1600 L", "100 L")},
                hint="A gallon of water weighs 8.34 lb." if us else "A litre of water weighs a kilogram.",
                worked=f"{{water}} × {each} = {{answer}}.",
                why=f"A bathtub's worth is {'330 lb' if us else '150 kg'}, a big tank as heavy as a car. Ask what your floor bears before you fill it.",
                learner=learner,
            ),
            Question(
                "Water stands {depth} deep in a tank with a flat bottom. How hard does it press on that bottom, in "
                + ("psf (pounds on a square foot)? (A cubic foot weighs 62.4 lb.)" if us else "kN/m²?"),
                answer=lambda depth: (depth * (1000 * u.kg / u.m**3) * GRAVITY).to(pressure),
                draw={"depth": ("16 in", "40 in", "4 in") if us else ("40 cm", "100 cm", "10 cm")},
                slips=[(lambda depth: depth.m_as("inch") * 62.4 * u.lbf / u.ft**2, "That is for feet; the depth is in inches.")] if us else
                      [(lambda depth: (depth * (1000 * u.kg / u.m**3) * (1 * u.m / u.s**2)).to("kN/m**2"), "That is the mass on a square metre, in tonnes; times 9.81 it is a force.")],
                hint="1 ft of water presses with 62.4 psf." if us else "1 m of water presses with 9.81 kN/m².",
                worked=f"{'62.4 psf for each foot' if us else '9.81 kN/m² for each metre'}; {{depth}} make {{answer}}.",
                why=f"Only the depth counts, not the tank's width. Living-room floors are built for about {'40 psf' if us else '1.9 kN/m²'}.",
                learner=learner,
            ),
            Order(
                "Two loops. Put the water's way in order, from the sump's pump on.",
                ["fish tank", "settling tank", "dosing tank", "bed", "sump"],
                also=["sump", "fish tank", "settling tank", "dosing tank", "bed"],
                hint="It falls from the tank to where dirt sinks; a second pump lifts it to the plants.",
                worked="pumped to the tank, it falls to the settling tank and on to the dosing tank, is pumped to the beds, and falls home.",
                why="Dirt is taken out before the second pump and the beds see it.",
                learner=learner,
            ),
            Pick(
                "Your yard is flat rock: no hole can be dug for a sump. What would you do?",
                {
                    "stand tank and beds higher, on blocks that bear them, so that a sump on the ground is the lowest": "",
                    "put the pump into the fish tank and do without a sump": "That is for beds over the tank, each with a second way out; where they stand beside it, a blocked drain empties the tank.",
                    "let the beds drain straight to the fish tank at the same height": "Water does not run on the level: a drain needs fall.",
                    "leave the sump out and let the overflow run into the yard": "Then you pour away your fish's water, and the food in it.",
                },
                answer="stand tank and beds higher, on blocks that bear them, so that a sump on the ground is the lowest",
                hint="Something has to be the lowest. Nobody says that it has to be under the ground.",
                worked="heights count, not holes: raise the rest, and have somebody who knows look at what carries it.",
                why="It costs the pump a little more lift, and strong legs under a heavy tank: have them checked.",
                learner=learner,
            ),
        ],
        learner=learner,
    )  # fmt: skip


def fault(learner: str = "") -> Pick:
    """What is wrong with the build named in `FAULTY`?"""
    return Pick(
        "Look at its dashed lines, and at what has none. What did the builder forget?",
        {
            "the pump stands too low": "The lowest vessel is the right place for it.",
            "the tank has one way out only": "",
            "the bed is higher than the sump": "It has to be: its water falls there by itself.",
        },
        answer="the tank has one way out only",
        hint="A leaf lies on the tank's overflow. Where does the water go now? Then ask the same of the bed.",
        worked="the bed has a dashed second overflow, the tank has none; one leaf, and the tank runs over its rim.",
        why="Screens and pipes do block. Every tank needs a second way out, a little higher, with nothing in it.",
        learner=learner,
    )
