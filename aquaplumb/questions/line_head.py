"""Questions of notebook 05: where does the head go?"""

from __future__ import annotations

from aquaplumb.questions.quiz import Order, Pick, Question, Quiz
from aquaplumb.units import u

FAULTY = "suction-throttled"  # the build of "What is wrong here?"; the page calls it by its number
_G = 9.81 * u.m / u.s**2


def guess(learner: str = "", units: str = "metric") -> Pick:
    """To answer before looking."""
    return Pick(
        f"The demo's pump stands in a sump, {'4.3 ft' if units == 'US' else '1.3 m'} below the ends of its pipe. Between them are some {'feet' if units == 'US' else 'metres'} of pipe, a strainer, "
        "elbows, tees and a check valve. All this costs the pump head: height of water. How much of that is the bare lift?",
        {
            "about a quarter": "Water in a short, wide pipe rubs less than one thinks. In the picture below look at the longest bar.",
            "about half": "More than that. In the picture below look at the longest bar.",
            "about three quarters": "",
        },
        answer="about three quarters",
        why="In small systems lift is most of it. Who leaves it out buys the wrong pump.",
        learner=learner,
        gate=True,
    )


def turn_guess(learner: str = "") -> Pick:
    """To answer before the second what-if is moved."""
    return Pick(
        "In the greenhouse demo two jets turn the fish tank. You give them nozzles half as wide; the pump stays. How does the water turn?",
        {
            "twice as fast": "Each jet is faster, but how much water is left in it? In that demo far less.",
            "as before": "The jets are faster, and bring less. In that demo one of the two weighs more.",
            "slower": "",
        },
        answer="slower",
        why="A jet pushes with its flow times its speed. So narrow a nozzle leaves too little water; too wide a one leaves no speed. Your own line may still gain by narrower ones: try in the panel.",
        learner=learner,
    )


def quiz(learner: str = "", units: str = "metric") -> Quiz:
    """Five questions; numbers differ by the learner's name."""
    us = units == "US"
    small, g = ("in", "32.2 ft/s²") if us else ("cm", "9.81 m/s²")
    slow, metre, costs = (
        ("2.6 ft/s", "3 ft of lift", "3 ft, then about 1.6 ft, 0.6 ft, 1 in and 0.1 in")
        if us
        else ("0.8 m/s", "1 m of lift", "1 m, then about 0.5 m, 0.17 m, 2 cm and 2 mm")
    )
    lift, pipe, sweep, spring, swing = (
        ("5 ft", "1.3 ft", "2 in", "1.6 ft", "0.6 ft") if us else ("1.5 m", "0.4 m", "4 cm", "0.5 m", "0.17 m")
    )
    return Quiz(
        "05 Where does the head go?",
        [
            Question(
                "Water moves at {speed} through {count} elbows, each with K = 0.7. What head do they cost together?",
                answer=lambda speed, count: (count * 0.7 * speed**2 / (2 * _G)).to(small),
                draw={"speed": ("2.5 ft/s", "5 ft/s", "0.5 ft/s") if us else ("0.8 m/s", "1.6 m/s", "0.1 m/s"), "count": (3, 8, 1)},
                slips=[(lambda speed, count: (0.7 * speed**2 / (2 * _G)).to(small), "That is one elbow."),
                       (lambda speed, count: (count * 0.7 * speed**2 / _G).to(small), "Twice g stands below the line: v² / 2g.")],
                hint=f"Each costs K times the speed head, v² / 2g, with g = {g}.",
                worked=f"{{count}} × 0.7 × ({{speed}})² / (2 × {g}) = {{answer}}.",
                why="At half the speed they would cost a quarter: elbows are seldom the trouble, fast water is.",
                learner=learner,
            ),
            Question(
                "A line has {lift} of lift and loses {loss} in pipe and fittings. You want twice the flow through the same pipe. "
                "About what head does it ask for?",
                answer=lambda lift, loss: lift + 4 * loss,
                draw={"lift": ("3 ft", "7 ft", "0.5 ft"), "loss": ("0.6 ft", "1.6 ft", "0.2 ft")}
                if us
                else {"lift": ("1 m", "2 m", "0.2 m"), "loss": ("0.2 m", "0.5 m", "0.05 m")},
                slips=[(lambda lift, loss: 4 * (lift + loss), "The lift stays what it is; only the losses grow."),
                       (lambda lift, loss: lift + 2 * loss, "Losses grow almost with the square of the flow: twice the flow, four times the loss."),
                       (lambda lift, loss: 2 * (lift + loss), "The lift stays, and losses grow with the square of the flow."),
                       (lambda lift, loss: 4 * loss, "And the lift?")],
                hint="Which of the two grows with the flow, and how?",
                worked="the lift stays {lift}; the losses become 4 × {loss}; together {answer}.",
                why="So a wider pipe beats a stronger pump when losses are large.",
                learner=learner,
            ),
            Question(
                "A clean strainer costs {clean}. Leaves shut half of its openings; the flow is still the same. What does it cost now?",
                answer=lambda clean: 4 * clean,
                draw={"clean": ("1 in", "3 in", "0.5 in") if us else ("2 cm", "8 cm", "1 cm")},
                slips=[(lambda clean: 2 * clean, "Half the openings: twice the speed in them. And head goes with the square of speed.")],
                hint="How fast does the water move in what is left open?",
                worked="twice the speed, so 2 × 2 times the head: {answer}.",
                why="At three quarters shut it is sixteen times. Clean it each week.",
                learner=learner,
            ),
            Order(
                f"The same slow water, about {slow}. Put these in order, the one that costs most head first.",
                [metre, "a spring check valve", "a swing check valve", "one elbow", "an open ball valve"],
                hint="A check valve's flap or spring has to be pushed open, however slow the water is.",
                worked=f"{costs}, by the middle values of our tables.",
                why="One spring check valve may cost as much as twenty elbows.",
                learner=learner,
            ),
            Pick(
                f"Your line is a little short of water. It has {lift} of lift, {pipe} of losses in pipe and fittings, and a spring check valve "
                "on top of that. What do you look at first?",
                {
                    "swap each of the two elbows for a wide sweep": f"Two elbows cost some {sweep} together, a sweep half of that. There is more to win.",
                    "whether you need that check valve, or one that opens more easily": "",
                    "the next bigger pump": "It would do, and cost you every hour of the year. Look for the head you give away first.",
                    "turn down the valve before the pump": "Never throttle before a pump. There is less flow, and bubbles form and collapse in the pump: that is the gravel noise.",
                },
                answer="whether you need that check valve, or one that opens more easily",
                hint="Which part costs most, besides the lift?",
                worked=f"the spring needs about {spring} to open, more than all the pipe; a swing check needs about {swing}.",
                why="A hole a third as wide as the pipe, just above the tank's usual water, where it drips back into the tank, lets air in and also stops the tank from draining back. The table below has it.",
                learner=learner,
            ),
        ],
        learner=learner,
    )  # fmt: skip


def fault(learner: str = "") -> Pick:
    """What is wrong with the build named in `FAULTY`?"""
    return Pick(
        "An external pump (it stands outside the water) beside its sump; the noise is dreadful. Look at the bars. What did the builder get wrong?",
        {
            "the lift is too high for any pump": "About 1 m (3 1/2 ft) is an ordinary lift, and water comes. Which loss is the largest?",
            "the pump is starved: too much is lost before it": "",
            "there are too many elbows": "They cost about 12 mm (1/2 in). Which loss is the largest?",
        },
        answer="the pump is starved: too much is lost before it",
        hint="Apart from the lift, which bar is longest? Where does it stand?",
        worked="more head is lost in the short pipe before the pump than in all of the pipe after it.",
        why="A valve stands one third open there. Throttle after a pump, never before it.",
        learner=learner,
    )
