"""Questions of notebook 13: are you ready to buy and build?"""

from __future__ import annotations

import math

from aquaplumb.build import Build, load
from aquaplumb.questions.quiz import Order, Pick, Question, Quiz
from aquaplumb.units import u

_BAR, _SAW = 5000, 3  # mm: a length of metric pipe, and what a saw takes
_QUART = 946.353  # mL in a US quart
_JOINTS = 125  # of 1 in from a quart: a pipe maker's technical manual


def guess(learner: str = "") -> Pick:
    """To answer before looking."""
    return Pick(
        "The demo's review finds nothing to mend. Now let all of it be off at once, each by chance: the pump up to 20 % weaker or stronger, heights 5 cm, "
        "feed and bacteria 20 %, bends and valves from the best to the worst in print. In how many of 2,000 such designs do pump, shares, drains, siphons and sump all still do their work?",
        {
            "in fewer than half": "So it is where nothing is to spare. This one has a third more flow than it needs.",
            "in about nine of ten": "Look where its bars end: what is there, over what is needed.",
            "in all of them": "",
        },
        answer="in all of them",
        why="It was drawn with something to spare: a third more flow, siphons between their two limits, room in the sump. That is what a margin is for.",
        learner=learner,
        gate=True,
    )


def _lengths(count, piece) -> int:
    """Lengths for so many equal pieces: whole pieces from each."""
    return math.ceil(count / _each(piece))


def _each(piece) -> int:
    millimetres = round(piece.m_as("mm"))
    return (_BAR + _SAW) // (millimetres + _SAW)  # the last one needs no cut behind it


def quiz(learner: str = "") -> Quiz:
    """Seven questions; numbers differ by the learner's name."""
    return Quiz(
        "13 The build sheet",
        [
            Question(
                "Pipe is sold in lengths of 5 m. You need {count} pieces of {piece}, and each cut takes 3 mm. How many lengths do you buy?",
                answer=_lengths,
                within=0.1,
                draw={"count": [4, 7, 8], "piece": ["2.5 m", "1.25 m"]},
                slips=[(lambda count, piece: math.ceil(count * piece.m_as("m") / 5), "That is the sum over 5 m. How many whole pieces come out of one length, with the saw's share?")],
                hint="How many whole pieces, each with 3 mm more, come out of 5 m?",
                worked="whole pieces from one length first, then as many lengths as it takes: {answer}.",
                why="Or trim each piece by 3 mm, if the fittings leave you that much. Dry-fit first.",
                learner=learner,
            ),
            Question(
                "A branch is to bring {flow}. How long does a bucket of 10 L take?",
                answer=lambda flow: (10 * u.L / flow).to("s"),
                draw={"flow": ("300 L/h", "1200 L/h", "60 L/h")},
                slips=[(lambda flow: (10 * u.L / flow).to("s") * 60, "Minutes and seconds were mixed."), (lambda flow: (10 * u.L / flow).to("s") / 60, "Minutes and seconds were mixed.")],
                hint="10 L over the flow; an hour has 3,600 s.",
                worked="10 L / {flow} × 3600 = {answer}.",
                why="Time it three times and take the middle. Turn one valve, wait, and time every branch again.",
                learner=learner,
            ),
            Question(
                "All of it holds in {held} of 2,000 designs. In which part of them does something fail? Give per cent.",
                answer=lambda held: (2000 - held) / 20 * u.percent,
                draw={"held": (1500, 1960, 20)},
                slips=[(lambda held: held / 20 * u.percent, "That is the chance that all of it holds.")],
                hint="What is left of 2,000, over 2,000.",
                worked="(2000 − {held}) / 2000 = {answer}.",
                why="It counts designs, and is as good as the ranges that you gave.",
                learner=learner,
            ),
            Question(
                "Print has 125 joints of 1 in from a quart (946 mL) of cement. You have {joints} such joints. How much cement is that, in mL?",
                answer=lambda joints: (joints * _QUART / _JOINTS * u.mL),
                draw={"joints": (20, 80, 5)},
                hint="946 mL over 125 is one joint.",
                worked="{joints} × 946 / 125 = {answer}.",
                why="Buy the next tin up: a half-used one skins over. A tee has three joints, an elbow two.",
                learner=learner,
            ),
            Order(
                "The pipes are cemented. Put what follows in order:",
                [
                    "wait until the cement has cured",
                    ("rinse, and throw that water away", "fill, run, and look for leaks a whole day"),
                    "a bucket under each branch, and pull the plug",
                    "ammonia from a bottle, for bacteria; then plants",
                    "a few fish",
                ],
                hint="Fish come last, and water comes after the cement.",
                worked="cure, rinse, leaks, drills, bacteria and plants, a few fish.",
                why="Each step finds its faults while nothing is in the water that can die of them.",
                learner=learner,
            ),
            Pick(
                "A line's flow hangs most on the pump (10 % either way), much less on bends, roughness and heights. You have one free hour. You …",
                {
                    "measure each height again": "They hardly move it.",
                    "run the pump at its height into a bucket, with a watch": "",
                    "swap the bends for wider ones": "That changes the build before you know it.",
                },
                answer="run the pump at its height into a bucket, with a watch",
                hint="Which bar of that picture is the widest?",
                worked="the widest bar is what you know least and need most.",
                why="Then give the sweep your own range: a narrower one, or your own points of the pump.",
                learner=learner,
            ),
            Pick(
                "The review finds nothing to mend. In 93 % of the designs all of it holds. You …",
                {
                    "buy: nothing was found": "The review knows typical numbers only; one in fourteen such systems disappoints.",
                    "see which promise fails in the other 7 %, and on what it hangs": "",
                    "take the next pump up": "A stronger pump may keep a siphon from stopping. Know first what fails.",
                },
                answer="see which promise fails in the other 7 %, and on what it hangs",
                hint="Is every promise weak, or one?",
                worked="mostly it is one promise, and one unknown behind it.",
                why="Measure that one. It is cheaper than a bigger anything.",
                learner=learner,
            ),
        ],
        learner=learner,
    )  # fmt: skip


def stronger() -> Build:
    """Somebody's courtyard with a stronger pump, to be on the safe side."""
    return load("courtyard").changed(
        {("title",): "Somebody's courtyard, a stronger pump", ("lines", "riser", "pump"): "demo mains 180 W external"}
    )


def fault(learner: str = "") -> Pick:
    """What is wrong with the stronger pump?"""
    return Pick(
        "Bought on the day, to be on the safe side: the next pump up. What does it break?",
        {
            "the sump, which runs over in a power cut": "Look at its depth: it rises by some millimetres, far under the rim of 0.75 m.",
            "nothing: more flow is safer": "Then why do the beds not fill any more, with half as much water again?",
            "the siphons, which never stop any more": "",
        },
        answer="the siphons, which never stop any more",
        hint="Look how deep the water gets in the beds, and ask what carries it away.",
        worked="each bed gets more than its siphon carries when the water is down at its vent: no air gets in, and it stays half empty.",
        why="A part is chosen for its system. Compare before you swap, not after; and it costs half as much again each year.",
        learner=learner,
    )
