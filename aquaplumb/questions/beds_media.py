"""Questions of notebook 02: what do the beds have to do?"""

from __future__ import annotations

from aquaplumb.questions.quiz import Order, Pick, Question, Quiz
from aquaplumb.units import u

FAULTY = "gravel-bed-on-a-deck"  # the build of "What is wrong here?"; the page calls it by its number


def guess(learner: str = "") -> Pick:
    """To answer before looking."""
    return Pick(
        "A bed 2 m long, 1.1 m wide and 36 cm deep holds 30 cm of expanded clay, the lightest of the usual media. Its drain "
        "is blocked, and water stands to the rim. What does it weigh?",
        {
            "about 200 kg": "Hold on to that guess until the picture below: look at what stands under the bed.",
            "about 400 kg": "Hold on to that guess until the picture below: look at what stands under the bed.",
            "about 800 kg": "",
        },
        answer="about 800 kg",
        why="It weighs as much as a small car, and more than half of that is water. With gravel it is well over a tonne.",
        learner=learner,
        gate=True,
    )


def quiz(learner: str = "") -> Quiz:
    """Five questions; numbers differ by the learner's name."""
    return Quiz(
        "02 What do the beds have to do?",
        [
            Question(
                "The fish eat {feed} a day. Your crop takes {each} a day on each square metre. How much growing area does the feed support?",
                answer=lambda feed, each: (feed / each).to("") * u.m**2,
                draw={"feed": ("160 g", "360 g", "40 g"), "each": ["40 g", "50 g", "60 g"]},
                hint="All of the feed, shared out over square metres.",
                worked="{feed} over {each} is {answer}.",
                why="Less area, and nitrate piles up; more, and the plants go pale.",
                learner=learner,
            ),
            Question(
                "The bacteria need {area} of surface. One litre of your medium offers {surface}. What is the calculated minimum of media?",
                answer=lambda area, surface: (area / surface).to("") * u.L,
                draw={"area": ("6 m2", "18 m2", "2 m2"), "surface": ["0.15 m2", "0.24 m2", "0.3 m2"]},
                hint="How many litres together offer the whole surface?",
                worked="{area} over {surface} a litre is {answer}.",
                why="A few buckets. The rule with margin asks about five times as much.",
                learner=learner,
            ),
            Question(
                "A full bed of {mass} stands on {area} of floor. What load is that? (A kilogram presses with 9.81 N.)",
                answer=lambda mass, area: (mass * 9.81 * u.m / u.s**2 / area).to("kN/m²"),
                draw={"mass": ("500 kg", "1200 kg", "100 kg"), "area": ["1.2 m2", "1.5 m2", "2 m2"]},
                slips=[(lambda mass, area: (mass * 10 * u.m / u.s**2 / area / 10).to("kN/m²"), "The 9.81 is missing: a load is a force, not a mass.")],
                hint="Mass × 9.81 is newtons; a thousand of them are one kN; then share it over the area.",
                worked="{mass} × 9.81 over {area} is {answer}.",
                why="A living-room floor is made for about 1.9 kN/m². This belongs on the ground.",
                learner=learner,
            ),
            Pick(
                "For Ben's feed the calculated minimum is 40 L of media, the rule with margin 200 L. His lettuce needs 4 m², "
                "which 30 cm deep is 1,200 L. In spring his water is cold. What does he build?",
                {
                    "40 L: it is calculated":
                        "At a typical rate, with each corner alive and clean, in warm water. Dirt and one cold week, and it fails.",
                    "200 L, in a bed of 4 m² only 5 cm deep":
                        "Enough for the bacteria, not for roots and solids: they ask for 20 cm at the least, better 30.",
                    "1,200 L: the plants ask for the most": "",
                    "2,400 L, to be safe": "Twice the weight and the price, and half of the plants go hungry: the feed supports 4 m².",
                },
                answer="1,200 L: the plants ask for the most",
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


def fault(learner: str = "") -> Pick:
    """What is wrong with the build named in `FAULTY`?"""
    return Pick(
        "Read the numbers. What did the builder get wrong?",
        {
            "too little surface for the bacteria": "45 m² are there, 9.4 m² are needed: more than four times enough.",
            "too little growing area": "1.2 m² against 1.22 m² is as near as can be.",
            "the bed is too heavy for where it stands": "",
        },
        answer="the bed is too heavy for where it stands",
        hint="Which number says something of the place where it stands? Look for the one that goes with it.",
        worked="5.84 kN/m² stand on a deck that was built for 3.5.",
        why="5.84 kN/m² on a deck built for 3.5: it comes down, with the bed and whoever stands by. Expanded clay would be lighter; "
            "the ground is better.",
        learner=learner,
    )  # fmt: skip
