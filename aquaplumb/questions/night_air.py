"""Questions of notebook 10: do the fish get through the night?"""

from __future__ import annotations

from aquaplumb.questions.quiz import Order, Pick, Question, Quiz
from aquaplumb.units import u

FAULTY = "spare-on-the-same-socket"  # the build of "What is wrong here?"; the page calls it by its number
_LITRE = 16.7 * u.g / u.hour  # of oxygen in a litre of air a minute; 20 °C, sea level
_LITRE_US = 473 * u.g / u.hour  # in a cubic foot a minute, which is 28.32 L


def guess(learner: str = "", units: str = "metric") -> Pick:
    """To answer before looking."""
    night, fish, water = ("82 °F", "36 lb", "285 gal") if units == "US" else ("28 °C", "16 kg", "about 1,100 L")
    return Pick(
        f"A warm night, {night}: {fish} of fish in {water}, fed in the evening. At three the power fails: pump and air stand still. How long "
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


def quiz(learner: str = "", units: str = "metric") -> Quiz:
    """Six questions; numbers differ by the learner's name."""
    us = units == "US"
    each, deep, hang, per = (_LITRE_US, 2 * u.ft, "2 ft", "ft³/min") if us else (_LITRE, 0.6 * u.m, "0.6 m", "L/min")
    oxygen, a_part, part = (
        ("A cubic foot of air a minute carries 473 g", "0.6 % of it in for each foot", 0.006)
        if us
        else ("A litre of air a minute carries 16.7 g", "2 % of it in for each metre", 0.02)
    )
    number, times = f"{each.m_as('g/hour'):g}", f"{part:g} × {deep.magnitude:g}"
    shut_off, metre, foot, long = (2.9 * u.psi, 0.433 * u.psi / u.ft, "foot", "ft") if us else (20 * u.kPa, 9.8 * u.kPa / u.m, "metre", "m")
    stalls, presses = ("2.9 psi", "0.433 psi") if us else ("20 kPa", "9.8 kPa")
    return Quiz(
        "10 Air and oxygen",
        [
            Question(
                "A tank of {tank} stands at 6.5 mg/L. Danger is below 3 mg/L. Its fish take {use}. Pump and air stop: how long have they?",
                answer=lambda tank, use: (tank * 3.5 * u.mg / u.L / use).to("min"),
                draw={"tank": ("160 gal", "370 gal", "30 gal") if us else ("600 L", "1400 L", "100 L"), "use": ("2 g/h", "5 g/h", "0.5 g/h")},
                slips=[(lambda tank, use: (tank * 6.5 * u.mg / u.L / use).to("min"), "Not all of it is theirs to use: the danger begins at 3 mg/L, not at nothing."),
                       (lambda tank, use: (tank * 3 * u.mg / u.L / use).to("min"), "That is what stays in the water when the danger begins. How much goes before?")],
                hint="How many grams lie between 6.5 and 3 mg/L in all of the tank?" + (" A gallon is 3.785 of the L in mg/L." if us else ""),
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
                f"{oxygen} of oxygen an hour. Your stones hang {hang} deep; they bring {a_part}, in clean water "
                "without oxygen, and your tank gets a third of that. How much oxygen do {air} bring?",
                answer=lambda air: (air.m_as(per) * each * part * deep.magnitude / 3).to("g/h"),
                draw={"air": ("0.8 ft3/min", "2 ft3/min", "0.2 ft3/min") if us else ("20 L/min", "60 L/min", "5 L/min")},
                slips=[(lambda air: (air.m_as(per) * each * part * deep.magnitude).to("g/h"), "That is in clean water without oxygen. Your tank gets a third."),
                       (lambda air: (air.m_as(per) * each * part / 3).to("g/h"), f"That would be at one {foot}. They hang {hang} deep.")],
                hint=f"{number} × the air, × {times}, and a third of that. (In g/h.)",
                worked=f"of the oxygen in {{air}}, {times} goes in, and a third of that in your tank: {{answer}}.",
                why="More than 99 parts in a hundred bubble out again. Depth and small bubbles are what counts.",
                learner=learner,
            ),
            Question(
                f"An air pump stalls at {stalls}. A {foot} of water presses with {presses}, and your stone takes {{stone}}. Below which depth does no air come?",
                answer=lambda stone: ((shut_off - stone) / metre).to(long),
                draw={"stone": ("0.3 psi", "0.9 psi", "0.1 psi") if us else ("2 kPa", "6 kPa", "1 kPa")},
                slips=[(lambda stone: (shut_off / metre).to(long), "The stone takes its part of the pressure as well.")],
                hint=f"What the stone leaves, divided by {presses} for each {foot}.",
                worked=f"{stalls} less {{stone}}, divided by {presses} a {foot}, is {{answer}}.",
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


def fault(learner: str = "", units: str = "metric") -> Pick:
    """What is wrong with the build named in `FAULTY`?"""
    us = units == "US"
    each, brings, stock = (
        ("Half a cubic foot", "1.9 of its 2.5 ft³/min", "0.13 lb/gal") if us else ("Thirteen litres", "54 of its 70 L/min", "16 kg/m³")
    )
    return Pick(
        "One stormy night the fish died, although there was a second air pump. What did the builder get wrong?",
        {
            "too few stones for the air": f"{each} a minute through each stone is within what such a stone takes.",
            "the air pump is too weak for the depth": f"It brings {brings} at that depth.",
            "the spare runs on the same mains": "",
            "too many fish": f"{stock} is an ordinary stock, and with everything running the oxygen is good.",
        },
        answer="the spare runs on the same mains",
        hint="Compare the two lines on power failure. Why does the spare not help?",
        worked="with the spare and without it the minutes are the same: it hangs on the mains that fail.",
        why="Both stop together. A spare needs a battery of its own.",
        learner=learner,
    )
