"""Questions of notebook 07: does each bed get its share?"""

from __future__ import annotations

from aquaplumb.questions.quiz import Order, Pick, Question, Quiz
from aquaplumb.units import u

FAULTY = "far-bed-starved"  # the build of "What is wrong here?"; the page calls it by its number
_G = 9.81 * u.m / u.s**2
_PERCENT = 100 * u.percent


def guess(learner: str = "", units: str = "metric") -> Pick:
    """To answer before looking."""
    return Pick(
        "In the demo, the ball valve of bed 2 stands wide open. You turn its handle a quarter of the way towards shut. "
        "How much of its flow does bed 2 lose?",
        {
            "about half": "Far less. The picture below has it.",
            "about a quarter": "One would think so. The picture below has it.",
            "less than a tenth": "",
        },
        answer="less than a tenth",
        why="A ball valve does next to nothing at first, and nearly everything in the last half of its turn.",
        learner=learner,
        gate=True,
    )


def quiz(learner: str = "", units: str = "metric") -> Quiz:
    """Five questions; numbers differ by the learner's name."""
    us = units == "US"
    bucket, words, g = (5 * u.gal, "5 gal", "32.2 ft/s²") if us else (10 * u.L, "10 L", "9.81 m/s²")
    return Quiz(
        "07 Sharing the flow",
        [
            Question(
                f"A line brings {{total}}. Bed 3 is to get {{share}} of it. In how many seconds must its spout fill a bucket of {words}?",
                answer=lambda total, share: (bucket / (total * share)).to("s"),
                draw={"total": ("600 gal/h", "1200 gal/h", "50 gal/h") if us else ("2400 L/h", "4800 L/h", "200 L/h"), "share": ["15 %", "20 %", "25 %", "30 %"]},
                slips=[(lambda total, share: (bucket / total).to("s"), "That is for the whole line. Bed 3 gets a part of it."),
                       (lambda total, share: (bucket * share / total).to("s"), "A smaller flow takes longer, not shorter.")],
                hint=f"First the bed's flow in an hour, then {words} divided by it; an hour has 3,600 s.",
                worked=f"{{share}} of {{total}}, then {words} divided by that, times 3,600 s: {{answer}}.",
                why="Bucket and watch: that is how valves are set in truth.",
                learner=learner,
            ),
            Question(
                "The handle of a ball valve stands {angle}° away from the line of the pipe; at 90° it is shut. How far is it open?",
                answer=lambda angle: (1 - angle / 90) * _PERCENT,
                draw={"angle": [18, 27, 36, 54, 63]},
                slips=[(lambda angle: angle / 90 * _PERCENT, "That is how far it is shut.")],
                hint="Along the pipe is all open, 100 %; a quarter turn is 90°.",
                worked="1 − {angle} / 90 = {answer}.",
                why="Below about a third open, a hair's turn changes the flow a lot and grit lodges.",
                learner=learner,
            ),
            Question(
                "One branch gets too much: on its way {head} of head are left over. Its water should move at {speed}. "
                "What K must its valve have to use that up?",
                answer=lambda head, speed: (2 * _G * head / speed**2).to(""),
                draw={"head": ("0.3 ft", "1.2 ft", "0.3 ft"), "speed": ("2 ft/s", "3 ft/s", "0.5 ft/s")}
                if us
                else {"head": ("0.1 m", "0.4 m", "0.1 m"), "speed": ("0.5 m/s", "0.9 m/s", "0.1 m/s")},
                slips=[(lambda head, speed: (_G * head / speed**2).to(""), "A speed head is v² / 2g: mind the 2."),
                       (lambda head, speed: (head / (speed**2 / (2 * _G)) * speed / (1 * u.m / u.s)).to(""), "The speed counts squared.")],
                hint="Head = K times v² / 2g. Turn that round.",
                worked=f"2 × {g} × {{head}} / ({{speed}})² = {{answer}}.",
                why="The valve's curve then says how far open that is: K = 5.5 is two thirds, 210 is one third.",
                learner=learner,
            ),
            Order(
                "You balance a line by hand. Put the steps in order.",
                ["open every valve all the way", "measure every end with bucket and watch", "throttle the end that is furthest over its share, a little",
                 "measure every end again, since each valve moves them all", "mark the handles and write the times on the wall"],
                hint="Start with all the water you can have; finish by making sure you can find the setting again.",
                worked="open, measure, throttle the greediest a little, measure again (and round again), mark.",
                why="Two or three rounds do. The neediest end stays wide open.",
                learner=learner,
            ),
            Pick(
                "The near bed of three takes far too much. To balance, its valve would have to stand 20 % open. What do you do?",
                {
                    "set it to 20 % and leave it": "It will clog: grit lodges in so narrow a gap, and a knock on the handle doubles the flow.",
                    "thinner pipe to the near bed, or a wider pipe to the far ones": "",
                    "a stronger pump": "More water, shared out just as badly.",
                    "throttle before the pump": "That starves the pump, and shares out nothing.",
                },
                answer="thinner pipe to the near bed, or a wider pipe to the far ones",
                hint="A valve nearly shut is a sign. Of what?",
                worked="pipe that is too small elsewhere: mend the pipe, then the valve has little left to do.",
                why="Let pipe do the rough part of the sharing, and the valve the fine part.",
                learner=learner,
            ),
        ],
        learner=learner,
    )  # fmt: skip


def fault(learner: str = "", units: str = "metric") -> Pick:
    """What is wrong with the build named in `FAULTY`?"""
    thin = "50 ft" if units == "US" else "15 m"
    return Pick(
        "The far bed's chard is pale and small. Read the flows and the speeds along the header. What did the builder get wrong?",
        {
            "the pump is far too weak": "It brings twice what is wanted. Who gets the water?",
            "the fish tank takes the beds' water": "The tank gets its share. Look at the beds.",
            "one thin header, and no valves": "",
        },
        answer="one thin header, and no valves",
        hint="The three beds should get 15 % each.",
        worked=f"the near spout is wide and takes a third of all; the far bed has {thin} of thin pipe before it, and nothing holds the near one back.",
        why="A wider header to the far beds, and a valve at each spout, cure it.",
        learner=learner,
    )
