"""Questions of notebook 03: how much water has to move?"""

from __future__ import annotations

from aquaplumb.questions.quiz import Order, Pick, Question, Quiz
from aquaplumb.units import u

FAULTY = "timer-too-short"  # the build of "What is wrong here?"; the page calls it by its number


def guess(learner: str = "", units: str = "metric") -> Pick:
    """To answer before looking."""
    tank, fish, warm = ("280 gal", "36 lb", "90 °F") if units == "US" else ("1,000 L", "16 kg", "32 °C")
    return Pick(
        f"The demo courtyard in a very hot week: a tank of about {tank}, {fish} of tilapia, water of {warm} and no air stones. Which of "
        "these asks for the most water through the tank?",
        {
            "sweeping the dirt out: the whole tank once an hour": "That is one tank an hour. Look at the bar below it in the picture.",
            "bringing the fish their oxygen": "",
            "carrying off the carbon dioxide they breathe out": "That is the smallest bar of the three; look at the picture.",
        },
        answer="bringing the fish their oxygen",
        why="Warm water carries so little oxygen that much of it must pass by.",
        learner=learner,
        gate=True,
    )


def quiz(learner: str = "", units: str = "metric") -> Quiz:
    """Five questions; numbers differ by the learner's name."""
    us = units == "US"
    flow, each = ("gal/h", "gallon") if us else ("L/h", "litre")
    gives, allowed, left = ("9.5 mg", "1 mg/L (3.8 mg in a gallon)", "1.5 mg") if us else ("2.5 mg", "1 mg/L", "0.4 mg")
    return Quiz(
        "03 How much water?",
        [
            Question(
                f"Fish use {{oxygen}} of oxygen. The water comes in with 7.5 mg/L and leaves with 5 mg/L{f': each gallon gives up {gives}' if us else ''}. "
                f"What flow brings it? (In {flow}.)",
                answer=lambda oxygen: (oxygen / _mg(2.5)).to(flow),
                draw={"oxygen": ("1.5 g/h", "4 g/h", "0.25 g/h")},
                slips=[(lambda oxygen: (oxygen / _mg(7.5)).to(flow), "Only what the fish take out counts: 7.5 comes, but 5 goes on unused."),
                       (lambda oxygen: (oxygen / _mg(5)).to(flow), f"5 mg/L is what stays in the water. How much does each {each} give up?")],
                hint=f"Each {each} gives up {gives}." if us else "Each litre gives up 7.5 − 5 = 2.5 mg.",
                worked=f"{{oxygen}} ÷ {gives} a {each} = {{answer}}.",
                why=f"Leave 6 mg/L instead of 5, and each {each} gives up much less: the flow must grow by two thirds.",
                learner=learner,
            ),
            Question(
                "The tank's needs come to {flow} over the hour. The pump runs {on} of each hour. What must it bring while it runs?",
                answer=lambda flow, on: flow * (60 / on.m_as("min")),
                draw={"flow": ("150 gal/h", "400 gal/h", "25 gal/h") if us else ("600 L/h", "1500 L/h", "100 L/h"), "on": ["15 min", "20 min", "30 min"]},
                slips=[(lambda flow, on: flow * (on.m_as("min") / 60), "That is less than over the hour; but it has less time for the same water."),
                       (lambda flow, on: flow, "In that case it would have to run all the time.")],
                hint="The hour's water has to pass in {on}.",
                worked="{flow} × 60 min ÷ {on} = {answer}.",
                why="Pipe and drains have to carry that larger flow as well.",
                learner=learner,
            ),
            Question(
                f"Fish give off {{ammonia}} of ammonia (as N) an hour. You allow {allowed} in the tank, and the beds take out 40 % "
                f"of it in one pass. What flow over the beds holds that limit? (In {flow}.)",
                answer=lambda ammonia: (ammonia / _mg(0.4) / u.hour).to(flow),
                draw={"ammonia": ("150 mg", "350 mg", "50 mg")},
                slips=[(lambda ammonia: (ammonia / _mg(1) / u.hour).to(flow), "That holds if the beds took out all of it in one pass. They take out 40 %."),
                       (lambda ammonia: (ammonia / _mg(0.6) / u.hour).to(flow), "60 % goes on unchanged; what counts is the 40 % that stays behind.")],
                hint=f"Each {each} leaves 40 % of what is in it behind: {left}.",
                worked=f"each {each} leaves {left} behind; {{ammonia}} an hour ÷ {left} = {{answer}}.",
                why="Half the limit asks for twice the flow.",
                learner=learner,
            ),
            Order(
                "From fish to pump. Put the steps in order.",
                [
                    "feed on the heaviest day",
                    "oxygen, ammonia and carbon dioxide that come of it",
                    "the flow that each of them asks for; take the largest",
                    ("more, if the tank gets only its share of the line", "more, if the pump runs only a part of the hour"),
                ],
                hint="It begins with what goes into the fish.",
                worked="feed makes the wastes, wastes ask for flows, the largest governs; then come share and timer, in either order.",
                why="The figure at the end is the one to look for on a pump's curve.",
                learner=learner,
            ),
            Pick(
                "August: the water has warmed up and your flow is a quarter short of what the oxygen asks for. Which would you do?",
                {
                    "set the oxygen left in the tank to 3 mg/L in the file: the warning goes away":
                        "It does, and the fish gasp all the same. Most kinds want 4 to 6 mg/L.",
                    "run the pump on a timer, so that each flush is stronger":
                        "While it rests, nothing brings oxygen; over the hour less water moves, not more.",
                    "air stones in the tank, on an air pump with a battery": "",
                    "feed in the evening, when it is cooler":
                        "Fish use the most oxygen in the hours after a meal; at night plants and algae take oxygen too.",
                },
                answer="air stones in the tank, on an air pump with a battery",
                hint="Which of them also helps when the power fails at night?",
                worked="air stones bring the missing quarter, and with a battery they go on when the pump stops.",
                why="They bring the missing oxygen, and go on when the water pump stops. A bigger pump does the first only.",
                learner=learner,
            ),
        ],
        learner=learner,
    )  # fmt: skip


def fault(learner: str = "", units: str = "metric") -> Pick:
    """What is wrong with the build named in `FAULTY`?"""
    brings, speed = ("434 gal/h", "2.3 ft/s") if units == "US" else ("1,640 L/h", "0.7 m/s")
    return Pick(
        "What did the builder get wrong?",
        {
            "the pump is too weak for its lift": f"At that lift it brings {brings}. Compare that with what the tank asks for over the hour.",
            "the pump runs too few minutes of each hour": "",
            "there are too many fish": "Oxygen asks for a trickle: few fish, and air stones for the rest.",
            "the pipe is too thin": f"Its water runs at {speed} at most, an ordinary speed.",
        },
        answer="the pump runs too few minutes of each hour",
        hint="Divide the turnover flow by the tank's share, and compare it with the flow delivered. Then look at the part of the time that it runs.",
        worked="all day long the pump would bring far more than enough; in a quarter of the time it cannot.",
        why="Forty minutes of each hour would do, with the same pump.",
        learner=learner,
    )


def _mg(number: float):
    return number * u.mg / u.L
