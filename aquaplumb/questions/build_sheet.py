"""Questions of notebook 13: are you ready to buy and build?"""

from __future__ import annotations

import math

from aquaplumb.build import Build, load
from aquaplumb.questions.quiz import Order, Pick, Question, Quiz
from aquaplumb.units import u

_BAR, _SAW = 5000, 3  # mm: a length of metric pipe, and what a saw takes
_BAR_US, _SAW_US = 960, 1  # eighths of an inch: 10 ft, and what a saw takes
_QUART = 946.353  # mL in a US quart
_JOINTS = 125  # of 1 in from a quart: a pipe maker's technical manual


def guess(learner: str = "", units: str = "metric") -> Pick:
    """To answer before looking."""
    return Pick(
        f"The demo's review finds nothing to mend. Now let all of it be off at once, each by chance: the pump up to 20 % weaker or stronger, heights {'2 in' if units == 'US' else '5 cm'}, "
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
    us = piece.units == u.ft
    bar, saw, length = (_BAR_US, _SAW_US, round(piece.m_as("in") * 8)) if us else (_BAR, _SAW, round(piece.m_as("mm")))
    return (bar + saw) // (length + saw)  # the last one needs no cut behind it


def quiz(learner: str = "", units: str = "metric") -> Quiz:
    """Seven questions; numbers differ by the learner's name."""
    us = units == "US"
    bar, saw, sold = ("10 ft", "1/8 in", 10 * u.ft) if us else ("5 m", "3 mm", 5 * u.m)
    a_quart, quart = ("a quart", 100 * u.percent) if us else ("946 mL", _QUART * u.mL)
    how = "What part of a quart is that, in per cent?" if us else "How much cement is that, in mL?"
    bucket, full = ("2 gal", 2 * u.gal) if us else ("10 L", 10 * u.L)
    return Quiz(
        "13 The build sheet",
        [
            Question(
                f"Pipe is sold in lengths of {bar}. You need {{count}} pieces of {{piece}}, and each cut takes {saw}. How many lengths do you buy?",
                answer=_lengths,
                within=0.1,
                draw={"count": [4, 7, 8], "piece": ["5 ft", "2.5 ft"] if us else ["2.5 m", "1.25 m"]},
                slips=[(lambda count, piece: math.ceil((count * piece / sold).m_as("")), f"That is the sum over {bar}. How many whole pieces come out of one length, with the saw's share?")],
                hint=f"How many whole pieces, each with {saw} more, come out of {bar}?",
                worked="whole pieces from one length first, then as many lengths as it takes: {answer}.",
                why=f"Or trim each piece by {saw}, if the fittings leave you that much. Dry-fit first.",
                learner=learner,
            ),
            Question(
                f"A branch is to bring {{flow}}. How long does a bucket of {bucket} take?",
                answer=lambda flow: (full / flow).to("s"),
                draw={"flow": ("80 gal/h", "320 gal/h", "20 gal/h") if us else ("300 L/h", "1200 L/h", "60 L/h")},
                slips=[(lambda flow: (full / flow).to("s") * 60, "Minutes and seconds were mixed."), (lambda flow: (full / flow).to("s") / 60, "Minutes and seconds were mixed.")],
                hint=f"{bucket} over the flow; an hour has 3,600 s.",
                worked=f"{bucket} / {{flow}} × 3600 = {{answer}}.",
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
                f"Print has 125 joints of {'1 in' if us else '33 mm'} pipe from {a_quart} of cement. You have {{joints}} such joints. {how}",
                answer=lambda joints: joints * quart / _JOINTS,
                draw={"joints": (20, 80, 5)},
                hint=f"{a_quart} over 125 is one joint.",
                worked=f"{{joints}} × {quart.magnitude:.0f} / 125 = {{answer}}.",
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


def stronger(units: str = "metric") -> Build:
    """Somebody's courtyard with a stronger pump, to be on the safe side."""
    return load("courtyard", units=units).changed(
        {("title",): "Somebody's courtyard, a stronger pump", ("lines", "riser", "pump"): "demo mains 180 W external"}
    )


def fault(learner: str = "", units: str = "metric") -> Pick:
    """What is wrong with the stronger pump?"""
    small, rim = ("a quarter of an inch", "29 1/2 in") if units == "US" else ("some millimetres", "0.75 m")
    return Pick(
        "Bought on the day, to be on the safe side: the next pump up. What does it break?",
        {
            "the sump, which runs over in a power cut": f"Look at its depth: it rises by {small}, far under the rim of {rim}.",
            "nothing: more flow is safer": "Then why do the beds not fill any more, with half as much water again?",
            "the siphons, which never stop any more": "",
        },
        answer="the siphons, which never stop any more",
        hint="Look how deep the water gets in the beds, and ask what carries it away.",
        worked="each bed gets more than its siphon carries when the water is down at its vent: no air gets in, and it stays half empty.",
        why="A part is chosen for its system. Compare before you swap, not after; and it costs half as much again each year.",
        learner=learner,
    )
