"""Questions of notebook 06: does the water get out?"""

from __future__ import annotations

from aquaplumb.questions.quiz import Order, Pick, Question, Quiz
from aquaplumb.units import u

FAULTY = "overflow-that-sucks-the-tank-down"  # the build of "What is wrong here?"; the page calls it by its number
_FRY_SPEED, _FRY_SPEED_US = 0.1 * u.m / u.s, 0.3 * u.ft / u.s


def guess(learner: str = "", units: str = "metric") -> Pick:
    """To answer before looking."""
    comes, pipe, wide = (
        ("226 gal/h", "pipe with a hole of 0.67 in", "pipe twice as wide") if units == "US" else ("850 L/h", "20 mm pipe", "40 mm pipe")
    )
    return Pick(
        f"A bed gets {comes}. Its siphon, of {pipe}, starts each time and empties the bed. To be on the safe side you build "
        f"it anew from {wide}. What happens?",
        {
            "the bed empties much faster": "It would, if the pipe ever filled.",
            "nothing changes": "The width of its pipe decides when a siphon starts.",
            "it never starts again": "",
        },
        answer="it never starts again",
        why=f"In the wide pipe {comes} only runs down the wall. Air stays in the pipe, and a siphon with air in it does not pull.",
        learner=learner,
        gate=True,
    )


def round_guess(learner: str = "", units: str = "metric") -> Pick:
    """To answer before the second what-if is moved."""
    vent, half = ("8 in", "4 in") if units == "US" else ("200 mm", "100 mm")
    return Pick(
        f"A bed goes round once in about 40 minutes; its siphon's vent is {vent} below the lip. You close that hole and bore one {half} "
        "below the lip. The same water comes. What changes?",
        {
            "nothing: the same water comes": "As much water as before, but less of it in each round.",
            "it goes round about twice as often": "",
            "it goes round half as often": "There is less to fill, and less to empty, before air comes in.",
        },
        answer="it goes round about twice as often",
        why="Half the height holds half the water: half the time to fill, and half to empty.",
        learner=learner,
    )


def quiz(learner: str = "", units: str = "metric") -> Quiz:
    """Seven questions; numbers differ by the learner's name."""
    us = units == "US"
    slow, area, deep = (_FRY_SPEED_US, "in**2", 8 * u.inch) if us else (_FRY_SPEED, "cm**2", 0.2 * u.m)
    fry, fall = ("0.3 ft/s", "8 in") if us else ("0.1 m/s", "0.2 m")
    second = (
        "{flow} over 26,900 is the flow in ft³ a second; divided by 0.3 ft/s, times 2 and times 144 in² to the ft²"
        if us
        else "{flow} / 3,600,000 is the flow in m³ a second; divided by 0.1 m/s, times 2"
    )
    return Quiz(
        "06 Drains and siphons",
        [
            Question(
                "With the water down at its vent, a siphon carries {carries}. It should carry 1.3 times what comes in. Up to what "
                "inflow is it sure to stop?",
                answer=lambda carries: carries / 1.3,
                draw={"carries": ("195 gal/h", "520 gal/h", "32.5 gal/h") if us else ("780 L/h", "1950 L/h", "130 L/h")},
                slips=[(lambda carries: carries * 1.3, "That way round the inflow is more than the siphon carries: it would never stop."),
                       (lambda carries: carries * 0.7, "1.3 times the inflow is not the same as 30 % off: divide by 1.3.")],
                hint="1.3 × inflow = what it carries.",
                worked="{carries} / 1.3 = {answer}.",
                why="The 1.3 is for slime, and for how far anybody's figures can be off.",
                learner=learner,
            ),
            Question(
                f"A screen lets {{flow}} out of a tank of fry. Take {fry} as the most that these fry can swim away from. How large "
                "must its holes be together, if half of them may be blocked?",
                answer=lambda flow: (2 * flow / slow).to(area),
                draw={"flow": ("180 gal/h", "720 gal/h", "90 gal/h") if us else ("720 L/h", "2880 L/h", "360 L/h")},
                slips=[(lambda flow: (flow / slow).to(area), "That is enough on its first day. Half of it may be blocked.")],
                hint="Area = flow / speed; bring the flow to " + ("ft³" if us else "m³") + " a second first. Then twice that.",
                worked=f"{second}, that is {{answer}}.",
                why="A fish that is pressed on a screen cannot get away, and blocks it for the next. Newly hatched fry are weaker still: put a sponge over the screen.",
                learner=learner,
            ),
            Question(
                "A standpipe is sure to start a siphon from {flow}. You take one of twice the bore. The flow that it needs goes with the "
                "bore to the power 2.5. What does it need now?",
                answer=lambda flow: flow * 2**2.5,
                draw={"flow": ("80 gal/h", "220 gal/h", "10 gal/h") if us else ("300 L/h", "800 L/h", "50 L/h")},
                slips=[(lambda flow: flow * 2, "Twice the bore is more than twice the area."),
                       (lambda flow: flow * 4, "The area is four times as large; the speed has to rise as well.")],
                hint="2 to the power 2.5 is 2 × 2 × √2.",
                worked="2 × 2 × 1.41 = 5.66; {flow} × 5.66 = {answer}.",
                why="One size of pipe up or down decides whether a siphon works.",
                learner=learner,
            ),
            Question(
                f"A bed of {{area}} is full of clay with 45 % of voids. Its vent lies {fall} below the lip, and {{flow}} comes in. How long does it take "
                "from vent to lip?",
                answer=lambda area, flow: (area * deep * 0.45 / flow).to("min"),
                draw={"area": ("15 ft2", "33 ft2", "3 ft2") if us else ("1.5 m2", "3 m2", "0.25 m2"), "flow": ("160 gal/h", "260 gal/h", "20 gal/h") if us else ("600 L/h", "1000 L/h", "50 L/h")},
                slips=[(lambda area, flow: (area * deep / flow).to("min"), "That is an empty box: more than half of it is clay."),
                       (lambda area, flow: (area * deep * 0.55 / flow).to("min"), "That fills the clay's own room; water has the other 45 %.")],
                hint=f"Volume of water = area × {fall} × 0.45; " + ("1 ft³ is 7.48 gal" if us else "1 m³ is 1,000 L") + ". Time = volume / flow.",
                worked=f"{{area}} × {fall} × 0.45, divided by {{flow}}, is {{answer}}.",
                why="It takes some minutes more in a real bed: the water has to rise over the lip before the siphon starts.",
                learner=learner,
            ),
            Order(
                "One round of a bed with a siphon, from the moment when it is nearly full:",
                [
                    "a thin sheet of water runs over the lip",
                    "the falling water takes the air along; the pipe is full",
                    "the siphon pulls far more out than comes in",
                    "the level comes down to the vent",
                    "air gets in, and the pull is gone",
                ],
                hint="Air has to leave the pipe before it can pull, and comes back at the end.",
                worked="over the lip, air out, strong pull, level at the vent, air in.",
                why="If the first step does not lead to the second, it dribbles; if the third does not lead to the fourth, it never stops.",
                learner=learner,
            ),
            Pick(
                "Two beds with siphons empty into one sump, and its pump never rests. When do you go and see whether the pump still has enough water?",
                {
                    "when both beds have just emptied": "Then the sump has all of their water, and is at its highest: see that it does not spill.",
                    "when both beds are nearly full": "",
                    "any time: what goes out comes back": "It comes back late. Until then it stands in the beds.",
                },
                answer="when both beds are nearly full",
                hint="Where is the water that is not in the sump?",
                worked="all that stands in the beds is missing from the sump; both full at once is the worst moment.",
                why="Nothing keeps two siphons in step, nor out of it: some day both are full at once.",
                learner=learner,
            ),
            Pick(
                "Which emergency overflow would you build for a fish tank?",
                {
                    "the same size and height as the usual one, beside it": "Then both are wet every day, and both grow shut.",
                    "a wider one, a little higher, with nothing in it": "",
                    "one with a valve, to be opened when it is needed": "It is needed at three in the morning, when nobody opens it.",
                    "one with a fine screen, so that no fish can leave": "The leaf or fish that shut the first screen shuts this one as well.",
                },
                answer="a wider one, a little higher, with nothing in it",
                hint="It has to work on the day when everything else is blocked, and to stay dry until then.",
                worked="dry in use, wide enough to stay quiet with all the water, and with no part that can shut or clog.",
                why="Keep fish from it by its height, or by wide bars; look at it once a month (common practice, no source).",
                learner=learner,
            ),
        ],
        learner=learner,
    )  # fmt: skip


def fault(learner: str = "") -> Pick:
    """What is wrong with the build named in `FAULTY`?"""
    return Pick(
        "Read its numbers. The overflow draws its water from near the floor, through a pipe that rises to the lip. One morning the tank "
        "stands nearly empty, with koi on the floor of it. What did the builder get wrong?",
        {
            "the overflow carries too little": "It carries far more than it has to; the tank did not spill.",
            "the overflow fills, and then pulls like a siphon": "",
            "the emergency overflow is too narrow": "It is the widest of all, and its Froude number is low.",
        },
        answer="the overflow fills, and then pulls like a siphon",
        hint="Look at the Froude numbers: under 0.3 is quiet, over 1 a pipe can run full.",
        worked="at a Froude number of 1.2 the overflow can run full; a full pipe with no open top pulls the tank down to where it takes water in.",
        why="A tee with an open top, or a wider pipe, lets air in, and the pull is gone.",
        learner=learner,
    )
