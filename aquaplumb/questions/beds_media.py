"""Questions of notebook 02: what do the beds have to do?"""

from __future__ import annotations

from aquaplumb.questions.quiz import GRAVITY, Order, Pick, Question, Quiz
from aquaplumb.units import u

FAULTY = "gravel-bed-on-a-deck"  # the build of "What is wrong here?"; the page calls it by its number


def guess(learner: str = "", units: str = "metric") -> Pick:
    """To answer before looking."""
    us = units == "US"
    size = "6 ft 7 in long, 3 ft 7 in wide and 14 in deep holds 12 in" if us else "2 m long, 1.1 m wide and 36 cm deep holds 30 cm"
    right, half, quarter = (
        ("about 3,500 lb", "about 1,700 lb", "about 900 lb") if us else ("about 1,600 kg", "about 800 kg", "about 400 kg")
    )
    return Pick(
        f"A bed {size} of pea gravel. Its drain is blocked, and water stands to the rim. What does it weigh?",
        {
            quarter: "Water alone would weigh more in a box of that size. In the picture look at what stands under the bed.",
            half: "More: gravel is heavier than water. In the picture look at what stands under the bed.",
            right: "",
        },
        answer=right,
        why="As much as a car: the gravel, and the water that fills all the space between and above its grains.",
        learner=learner,
        gate=True,
    )


def quiz(learner: str = "", units: str = "metric") -> Quiz:
    """Five questions; numbers differ by the learner's name."""
    us = units == "US"
    square, amount, pressure = (u.ft**2, u.gal, "psf") if us else (u.m**2, u.L, "kN/m²")
    least, rule, area, deep, there = (
        ("10 gal", "50 gal", "43 ft²", "12 in", "320 gal") if us else ("40 L", "200 L", "4 m²", "30 cm", "1,200 L")
    )
    thin, roots, twice = ("2 in", "8 in at the least, better 12", "640 gal") if us else ("5 cm", "20 cm at the least, better 30", "2,400 L")
    return Quiz(
        "02 What do the beds have to do?",
        [
            Question(
                f"The fish eat {{feed}} a day. Your crop takes {{each}} a day on each square {'foot' if us else 'metre'}. How much growing area does the feed support?",
                answer=lambda feed, each: (feed / each).to("") * square,
                draw={"feed": ("6 oz", "12 oz", "1 oz"), "each": ["0.12 oz", "0.15 oz", "0.2 oz"]}
                if us
                else {"feed": ("160 g", "360 g", "40 g"), "each": ["40 g", "50 g", "60 g"]},
                hint=f"All of the feed, shared out over square {'feet' if us else 'metres'}.",
                worked="{feed} over {each} is {answer}.",
                why="Less area, and nitrate piles up; more, and the plants go pale.",
                learner=learner,
            ),
            Question(
                f"The bacteria need {{area}} of surface. One {'gallon' if us else 'litre'} of your medium offers {{surface}}. What is the calculated minimum of media?",
                answer=lambda area, surface: (area / surface).to("") * amount,
                draw={"area": ("60 ft2", "180 ft2", "20 ft2"), "surface": ["6 ft2", "10 ft2", "12 ft2"]}
                if us
                else {"area": ("6 m2", "18 m2", "2 m2"), "surface": ["0.15 m2", "0.24 m2", "0.3 m2"]},
                hint=f"How many {'gallons' if us else 'litres'} together offer the whole surface?",
                worked=f"{{area}} over {{surface}} a {'gallon' if us else 'litre'} is {{answer}}.",
                why="A few buckets. The rule with margin asks about five times as much.",
                learner=learner,
            ),
            Question(
                "A full bed of {mass} stands on {area} of floor. What load is that?" + ("" if us else " (A kilogram presses with 9.81 N.)"),
                answer=lambda mass, area: (mass * GRAVITY / area).to(pressure),
                draw={"mass": ("1000 lb", "2600 lb", "200 lb"), "area": ["12 ft2", "16 ft2", "20 ft2"]}
                if us
                else {"mass": ("500 kg", "1200 kg", "100 kg"), "area": ["1.2 m2", "1.5 m2", "2 m2"]},
                slips=[] if us else [(lambda mass, area: (mass * 10 * u.m / u.s**2 / area / 10).to("kN/m²"), "The 9.81 is missing: a load is a force, not a mass.")],
                hint="Pounds over square feet; psf is pounds on a square foot." if us else "Mass × 9.81 is newtons; a thousand of them are one kN; then share it over the area.",
                worked=f"{{mass}}{'' if us else ' × 9.81'} over {{area}} is {{answer}}.",
                why=f"A living-room floor is made for about {'40 psf' if us else '1.9 kN/m²'}. This belongs on the ground.",
                learner=learner,
            ),
            Pick(
                f"For Ben's feed the calculated minimum is {least} of media, the rule with margin {rule}. His lettuce needs {area}, "
                f"which {deep} deep is {there}. In spring his water is cold. What does he build?",
                {
                    f"{least}: it is calculated":
                        "At a typical rate, with each corner alive and clean, in warm water. Dirt and one cold week, and it fails.",
                    f"{rule}, in a bed of {area} only {thin} deep":
                        f"Enough for the bacteria, not for roots and solids: they ask for {roots}.",
                    f"{there}: the plants ask for the most": "",
                    f"{twice}, to be safe": f"Twice the weight and the price, and half of the plants go hungry: the feed supports {area}.",
                },
                answer=f"{there}: the plants ask for the most",
                hint="Three needs ask. What serves all three?",
                worked="the largest of the needs serves the others as well: here that of the plants.",
                why="In a media bed the plants' area nearly always asks for more media than the bacteria do.",
                learner=learner,
            ),
            Order(
                "A bed cut open, from the top down:",
                ["a dry layer that keeps light from the water", "roots, wet and then full of air", "solids, with worms and bacteria",
                 "the floor of the box, with the drain in it"],
                hint="Light makes slime where it meets water; solids sink.",
                worked="dry on top, then roots, then solids, then the box.",
                why="Flood the top layer and green slime and little flies come.",
                learner=learner,
            ),
        ],
        learner=learner,
    )  # fmt: skip


def fault(learner: str = "", units: str = "metric") -> Pick:
    """What is wrong with the build named in `FAULTY`?"""
    film, needed, area, other, load, rating = (
        ("484 ft²", "101 ft²", "12.9 ft²", "13.1 ft²", "122 psf", "73.1")
        if units == "US"
        else ("45 m²", "9.4 m²", "1.2 m²", "1.22 m²", "5.84 kN/m²", "3.5")
    )
    return Pick(
        "Read the numbers. What did the builder get wrong?",
        {
            "too little surface for the bacteria": f"{film} are there, {needed} are needed: more than four times enough.",
            "too little growing area": f"{area} against {other} is as near as can be.",
            "the bed is too heavy for where it stands": "",
        },
        answer="the bed is too heavy for where it stands",
        hint="Which number says something of the place where it stands? Look for the one that goes with it.",
        worked=f"{load} stand on a deck that was built for {rating}.",
        why=f"{load} on a deck built for {rating}: it comes down, with the bed and whoever stands by. Expanded clay would be lighter; "
            "the ground is better.",
        learner=learner,
    )  # fmt: skip
