"""Questions of notebook 10: do the fish get through the night?"""

from __future__ import annotations

from aquaplumb.questions.quiz import Order, Pick, Question, Quiz
from aquaplumb.units import u

FAULTY = "spare-on-the-same-socket"  # the build of "What is wrong here?"; the page calls it by its number
_LITRE = 16.7 * u.g / u.hour  # of oxygen in a litre of air a minute; 20 °C, sea level


def guess(learner: str = "") -> Pick:
    """To answer before looking."""
    return Pick(
        "A warm night, 28 °C: 16 kg of fish in about 1,100 L, fed in the evening. At three the power fails: pump and air stand still. How long "
        "until the fish are in danger?",
        {
            "till the next evening: that is a lot of water": "It is a lot of water, but there is little oxygen in it. Look at the picture below.",
            "about an hour": "",
            "a few minutes": "So fast it goes with pure oxygen and four times the fish. Look at the picture below.",
        },
        answer="about an hour",
        why="All that water holds 3 or 4 g of oxygen above the danger, and the fish take nearly 3 g an hour.",
        learner=learner,
        gate=True,
    )


def quiz(learner: str = "") -> Quiz:
    """Six questions; numbers differ by the learner's name."""
    return Quiz(
        "10 Air and oxygen",
        [
            Question(
                "A tank of {tank} stands at 6.5 mg/L. Danger is below 3 mg/L. Its fish take {use}. Pump and air stop: how long have they?",
                answer=lambda tank, use: (tank * 3.5 * u.mg / u.L / use).to("min"),
                draw={"tank": ("600 L", "1400 L", "100 L"), "use": ("2 g/h", "5 g/h", "0.5 g/h")},
                slips=[(lambda tank, use: (tank * 6.5 * u.mg / u.L / use).to("min"), "Not all of it is theirs to use: the danger begins at 3 mg/L, not at nothing."),
                       (lambda tank, use: (tank * 3 * u.mg / u.L / use).to("min"), "That is what stays in the water when the danger begins. How much goes before?")],
                hint="How many grams lie between 6.5 and 3 mg/L in all of the tank?",
                worked="{tank} × 3.5 mg/L, divided by {use}, is {answer}.",
                why="An alarm should leave you half of it: frightened fish breathe harder.",
                learner=learner,
            ),
            Question(
                "After a meal these fish breathe 1.4 times as much. Hungry, they would have {hungry} from the failure to the danger. How long have they after a meal?",
                answer=lambda hungry: (hungry / 1.4).to("min"),
                draw={"hungry": ("56 min", "140 min", "14 min")},
                slips=[(lambda hungry: hungry * 1.4, "They take more, so it lasts shorter, not longer."),
                       (lambda hungry: hungry * 0.6, "40 % more taken is not 40 % less time: divide.")],
                hint="The same oxygen, taken faster.",
                worked="{hungry} ÷ 1.4 = {answer}.",
                why="So do not feed when a storm is coming, and never during a failure.",
                learner=learner,
            ),
            Question(
                "A litre of air a minute carries 16.7 g of oxygen an hour. Your stones hang 0.6 m deep; they bring 2 % of it in for each metre, in clean water "
                "without oxygen, and your tank gets a third of that. How much oxygen do {air} bring?",
                answer=lambda air: (air.m_as("L/min") * _LITRE * 0.02 * 0.6 / 3).to("g/h"),
                draw={"air": ("20 L/min", "60 L/min", "5 L/min")},
                slips=[(lambda air: (air.m_as("L/min") * _LITRE * 0.02 * 0.6).to("g/h"), "That is in clean water without oxygen. Your tank gets a third."),
                       (lambda air: (air.m_as("L/min") * _LITRE * 0.02 / 3).to("g/h"), "That would be at one metre. They hang 0.6 m deep.")],
                hint="16.7 × the litres, × 0.02 × 0.6, and a third of that. (In g/h.)",
                worked="of the oxygen in {air}, 0.02 × 0.6 goes in, and a third of that in your tank: {answer}.",
                why="More than 99 parts in a hundred bubble out again. Depth and small bubbles are what counts.",
                learner=learner,
            ),
            Question(
                "An air pump stalls at 20 kPa. A metre of water presses with 9.8 kPa, and your stone takes {stone}. Below which depth does no air come?",
                answer=lambda stone: ((20 * u.kPa - stone) / (9.8 * u.kPa / u.m)).to("m"),
                draw={"stone": ("2 kPa", "6 kPa", "1 kPa")},
                slips=[(lambda stone: (20 * u.kPa / (9.8 * u.kPa / u.m)).to("m"), "The stone takes its part of the pressure as well.")],
                hint="What the stone leaves, divided by 9.8 kPa for each metre.",
                worked="20 kPa less {stone}, divided by 9.8 kPa/m, is {answer}.",
                why="Long before that depth it brings hardly any air: look for the flow at your depth, not for the number on the box.",
                learner=learner,
            ),
            Order(
                "Three in the morning, an alarm: power gone, fish at the surface, mouths open. In order:",
                [("see that the spare air runs", "keep your hands off the water until the mains plugs are pulled"), "carry water: dip it out and let it fall back in",
                 "when the power is back, start the pump and watch for an hour", "feed again next evening, little"],
                hint="Air first, and your own life before your hands are wet.",
                worked="spare air, and plugs out before wet hands; falling water, then restart and watch; food last of all.",
                why="A bucket poured from a height brings oxygen too, while you wait.",
                learner=learner,
            ),
            Pick(
                "You have money for one thing. The tank lasts 75 minutes without power, and you sleep in the house beside it. Which?",
                {
                    "a second mains air pump, on another socket": "It stops with the first one.",
                    "a battery air pump that starts by itself, tested each month": "",
                    "a bigger water pump: more oxygen to begin with": "It raises the start by a little, and stands still with the rest.",
                    "an alarm on your telephone, and nothing else": "It buys the minutes to get out of bed. What will you do then, with no air to give?",
                },
                answer="a battery air pump that starts by itself, tested each month",
                hint="Which of them does something at four in the morning while you sleep?",
                worked="only the battery pump works while nobody is there. The alarm comes next.",
                why="The alarm is the next thing to buy: a spare may fail too, and it does not see a dead water pump.",
                learner=learner,
            ),
        ],
        learner=learner,
    )  # fmt: skip


def fault(learner: str = "") -> Pick:
    """What is wrong with the build named in `FAULTY`?"""
    return Pick(
        "One stormy night the fish died, although there was a second air pump. What did the builder get wrong?",
        {
            "too few stones for the air": "Thirteen litres a minute through each stone is within what such a stone takes.",
            "the air pump is too weak for the depth": "It brings 54 of its 70 L/min at that depth.",
            "the spare runs on the same mains": "",
            "too many fish": "16 kg/m³ is an ordinary stock, and with everything running the oxygen is good.",
        },
        answer="the spare runs on the same mains",
        hint="Compare the two lines on power failure. Why does the spare not help?",
        worked="with the spare and without it the minutes are the same: it hangs on the mains that fail.",
        why="Both stop together. A spare needs a battery of its own.",
        learner=learner,
    )
