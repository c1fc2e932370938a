"""Questions of notebook 08: which pump?"""

from __future__ import annotations

from aquaplumb.questions.quiz import Pick, Question, Quiz
from aquaplumb.units import u

FAULTY = "pump-chosen-at-zero-head"  # the build of "What is wrong here?"; the page calls it by its number


def guess(learner: str = "", units: str = "metric") -> Pick:
    """To answer before looking."""
    box, high, lift = ("950 gal/h", "12.5 ft", "4.3 ft") if units == "US" else ("3,600 L/h", "3.8 m", "1.3 m")
    return Pick(
        f"A pump's box says {box} in large print, and a greatest head of {high} in small print. The pipe ends {lift} "
        "above the water that the pump stands in. How much comes out at the top?",
        {
            "all of it": "That was measured with no pipe on it. In the picture below look where the two curves meet.",
            "about seven tenths": "",
            "hardly anything": "It is not that bad. In the picture below look where the two curves meet.",
        },
        answer="about seven tenths",
        why="The number on the box is measured with no lift and no pipe at all.",
        learner=learner,
        gate=True,
    )


def quiz(learner: str = "", units: str = "metric") -> Quiz:
    """Four questions; numbers differ by the learner's name."""
    us = units == "US"
    return Quiz(
        "08 Which pump?",
        [
            Question(
                "The water in a sump stands {below} below the floor. The pipe ends {above} above the floor. What is the lift?",
                answer=lambda below, above: below + above,
                draw={"below": ("8 in", "24 in", "2 in"), "above": ("36 in", "60 in", "4 in")}
                if us
                else {"below": ("20 cm", "60 cm", "5 cm"), "above": ("90 cm", "150 cm", "10 cm")},
                slips=[(lambda below, above: above, "{above} counts from the floor; the water starts lower, in the sump."),
                       (lambda below, above: above - below, "The sump's water is below the floor: that makes the way up longer.")],
                hint="How far is it from the water's surface up to the pipe's end?",
                worked="from the water up to the floor is {below}, from the floor to the end {above}; together {answer}.",
                why="Forgetting the part below the floor is the commonest slip of all.",
                learner=learner,
            ),
            Question(
                "A pump draws {power} day and night. How much energy does it take in a year of 365 days?",
                answer=lambda power: (power * 8760 * u.hour).to("kWh"),
                draw={"power": ("20 W", "120 W", "5 W")},
                slips=[(lambda power: (power * 365 * u.hour).to("kWh"), "That is one hour a day. It runs all 24."),
                       (lambda power: (power * 24 * u.hour).to("kWh"), "That is one day.")],
                hint="Power times time. A year has 24 × 365 hours.",
                worked="{power} × 8,760 h = {answer}.",
                why="Times the price of a kWh, this is often more than the pump cost to buy.",
                learner=learner,
            ),
            Question(
                "A 12 V pump lifts water {head} at most. Its battery, nearly flat, sags to 10.8 V, nine tenths, and the pump slows as "
                "much. How high does it lift now, at most?",
                answer=lambda head: head * 0.81,
                draw={"head": ("6 ft", "16 ft", "2 ft") if us else ("2 m", "5 m", "0.5 m")},
                slips=[(lambda head: head * 0.9, "Flow goes with the speed; head goes with the speed twice over, 0.9 × 0.9.")],
                hint="Head goes with the square of the speed.",
                worked="0.9 × 0.9 = 0.81; {head} × 0.81 = {answer}.",
                why="A pump that just reaches on a full battery moves nothing on a tired one.",
                learner=learner,
            ),
            Pick(
                "Four pumps reach the flow you want. Which one would you buy?",
                {
                    "one that gives 3 % more than you want, at the end of its curve":
                        "A little slime and it is short; and past the end of its curve nobody has said what it does.",
                    "one that gives 20 % more, in the middle of its curve": "",
                    "one that gives three times as much, throttled by a valve":
                        "You would pay for the other two thirds every hour of the year, and strain the valve.",
                    "one that gives it near its greatest head, with a third to spare in flow on the box":
                        "So near its greatest head, a small loss of speed or a dirty strainer stops the flow.",
                },
                answer="one that gives 20 % more, in the middle of its curve",
                hint="Think of it after a year: dirty strainer, worn impeller.",
                worked="a margin of 10 to 30 % covers dirt and wear, and the middle of the curve is where pumps are happy.",
                why="Ten to thirty per cent covers dirt and wear and does not cost you for years (common practice, no source).",
                learner=learner,
            ),
        ],
        learner=learner,
    )  # fmt: skip


def fault(learner: str = "") -> Pick:
    """What is wrong with the build named in `FAULTY`?"""
    return Pick(
        "Read its numbers. What did the builder get wrong?",
        {
            "the pipe is far too thin": "The water moves at an ordinary speed in it; look at the lift instead.",
            "the pump was chosen by the flow on its box": "",
            "the fish need more water than any pump gives": "The flow that is wanted is an ordinary one for that tank.",
        },
        answer="the pump was chosen by the flow on its box",
        hint="Compare the flow wanted, the flow delivered, and the pump's name.",
        worked="the box's figure holds at no lift; at this lift the pump gives far less.",
        why="At no lift it would bring enough. At its real lift it brings a part.",
        learner=learner,
    )
