"""Questions of notebook 11: mains or battery, and what wire?"""

from __future__ import annotations

from aquaplumb.questions.quiz import Pick, Question, Quiz
from aquaplumb.units import u

FAULTY = "bell-wire-to-the-pump"  # the build of "What is wrong here?"; the page calls it by its number
_OHM, _OHM_US = 0.01 * u.ohm / u.m, 0.003 * u.ohm / u.ft
_SUN, _THROUGH = 2.5, 0.6  # hours of full sun in a December day; part of the label that comes out of the battery


def guess(learner: str = "", units: str = "metric") -> Pick:
    """To answer before looking."""
    return Pick(
        f"Right at its 12 V battery a pump brings {'420 gal/h' if units == 'US' else '1,590 L/h'}. Now battery and panel move to the shed, and {'55 ft' if units == 'US' else '14 m'} of the thin wire of a "
        "door bell lead to the pump. How much does it bring?",
        {
            "as much as before: wire is wire": "Hold on to that guess until you have moved the wire's length in the what-if below.",
            "about seven tenths": "",
            "nothing": "It is a thin wire, but it still turns. Move the wire's length in the what-if below.",
        },
        answer="about seven tenths",
        why="The wire keeps nearly two of the twelve volts, and a DC pump turns as fast as the voltage lets it.",
        learner=learner,
        gate=True,
    )


def sun_guess(learner: str = "") -> Pick:
    """To answer before the second what-if is moved."""
    return Pick(
        "A pump runs on a battery, day and night, all year, at 45 degrees north, in a dull climate. How many watts of panel for each of its watts pay for a day in December?",
        {
            "about one": "That would do if the sun stood overhead day and night.",
            "six or seven": "In a bright June it just would. Try such a panel for your own pump below.",
            "about two dozen": "",
        },
        answer="about two dozen",
        why="Under dull skies a December day brings little more than an hour and a half of full sun, and the pump runs for 24.",
        learner=learner,
    )


def quiz(learner: str = "", units: str = "metric") -> Quiz:
    """Seven questions; numbers differ by the learner's name."""
    us = units == "US"
    ice = "32 °F" if us else "0 °C"
    each, ohms, a = (_OHM_US, "0.003 ohm", "foot") if us else (_OHM, "0.01 ohm", "metre")
    return Quiz(
        "11 Mains or battery",
        [
            Question(
                f"A wire has {ohms} in each {a} of conductor. It leads {{length}} to a pump that draws {{current}}. What is the voltage drop?",
                answer=lambda length, current: (2 * length * each * current).to("V"),
                draw={"length": ("12 ft", "40 ft", "4 ft") if us else ("4 m", "12 m", "1 m"), "current": ("2 A", "5 A", "0.5 A")},
                slips=[(lambda length, current: (length * each * current).to("V"), "The current has to come back as well: twice the length.")],
                hint="Ohm's law: volts = ohms × amperes, and the way is there and back.",
                worked=f"2 × {{length}} × {ohms} a {a} × {{current}} = {{answer}}.",
                why="Of 12 V, up to 0.36 V is usual (3 %).",
                learner=learner,
            ),
            Question(
                "A pump takes {power} out of a 12 V battery. It has to last {hours} without sun. Half of the label's capacity may be used. How large "
                "must the battery be, in Ah?",
                answer=lambda power, hours: (power * hours / (12 * u.V) / 0.5).to("A*hour"),
                draw={"power": ("12 W", "36 W", "6 W"), "hours": ("12 hour", "36 hour", "12 hour")},
                slips=[(lambda power, hours: (power * hours / (12 * u.V)).to("A*hour"), "That empties it to the last drop. Half of it may be used."),
                       (lambda power, hours: (power * hours / (12 * u.V) * 0.5).to("A*hour"), "Half may be used: so twice as much, not half as much.")],
                hint="Power × hours is energy; over the voltage, ampere-hours; then twice that.",
                worked="{power} × {hours} / 12 V / 0.5 = {answer}.",
                why="An old lead battery has a fifth less: take a quarter more.",
                learner=learner,
            ),
            Question(
                "A pump takes {power} out of its battery, day and night. A December day brings as much as 2.5 hours of full sun, and 60 % of the panel's "
                "label come out of the battery. What panel just pays for the day?",
                answer=lambda power: power * 24 / _SUN / _THROUGH,
                draw={"power": ("15 W", "60 W", "5 W")},
                slips=[(lambda power: power * 24 / _SUN, "That panel loses nothing on the way. Of a real one, 60 % come through."),
                       (lambda power: power * 24 / _SUN * _THROUGH, "Losses make the panel larger: divide by 0.6.")],
                hint="What goes out in 24 hours has to come in in 2.5.",
                worked="{power} × 24 / 2.5 / 0.6 = {answer}.",
                why="Sixteen times the pump's power. That is why small pumps, rests at night and mains are worth a thought.",
                learner=learner,
            ),
            Pick(
                "Where does the fuse of a battery's wire belong?",
                {
                    "at the pump, so that it can be reached": "Then the whole wire between battery and pump can still burn.",
                    "at the battery's plus pole, before anything else": "",
                    "nowhere: 12 V cannot hurt anybody": "It does not shock you. It sets the house on fire.",
                },
                answer="at the battery's plus pole, before anything else",
                hint="What does it guard: the pump, or the wire?",
                worked="it guards the wire; so it stands where the wire begins.",
                why="And never a larger fuse than the wire bears.",
                learner=learner,
            ),
            Pick(
                "Next year you want to go from mains to a battery, on the same pipe. What has to be new?",
                {
                    "pump and supply; then look anew at the flow": "",
                    "all pipe: DC pumps need thicker pipe": "Pipe knows nothing of current. It asks for so much head at each flow, whatever pumps it.",
                    "nothing: the old pump runs on an inverter, and that is free": "It can run on an inverter, which takes a tenth or more of the battery for itself.",
                },
                answer="pump and supply; then look anew at the flow",
                hint="Whose curve is your line's, and whose is the pump's?",
                worked="the line's curve stays; another pump crosses it at another point.",
                why="So lay the pipe well now, and leave a way for a cable.",
                learner=learner,
            ),
            Pick(
                "A cold night. The walls have their foam, the water lies open, and money is short. What first?",
                {
                    "a lid on the water": "",
                    "a heater twice as large": "It pays for the loss every night; a lid ends it.",
                    "more pumping, to keep the water moving": "Moving water loses more.",
                },
                answer="a lid on the water",
                hint="Which way does most heat go from open water?",
                worked="open water loses most by evaporation; a lid stops that in an evening.",
                why="Leave a gap for air, or let the stones bubble in from under it: fish breathe under a lid too.",
                learner=learner,
            ),
            Pick(
                f"In January it is {'23 °F' if us else '−5 °C'} in the shed, and the sun begins to charge the LiFePO4 battery. What now?",
                {
                    "let it charge: the sun warms it": "Lithium grows on its plates long before it is warm.",
                    f"stop the charging until the battery is above {ice}": "",
                    "charge it faster, so that it is done sooner": "The faster, the worse.",
                },
                answer=f"stop the charging until the battery is above {ice}",
                hint="It may give power in the cold. May it take any?",
                worked="below freezing it may give power, not take it.",
                why="A battery with a cut-off for cold does it by itself; or keep it in a warmer place.",
                learner=learner,
            ),
        ],
        learner=learner,
    )  # fmt: skip


def fault(learner: str = "", units: str = "metric") -> Pick:
    """What is wrong with the build named in `FAULTY`?"""
    wire, thick = ("46 ft", "10 AWG") if units == "US" else ("14 m", "6 mm²")
    return Pick(
        "Read its numbers. On the bench the pump brought all that its maker says. In the garden it is nearly a third weaker. What did the builder get wrong?",
        {
            "the pump is too weak for that height": "At its full voltage it lifts it well: on the bench it did.",
            "the battery is too small": "It lasts for more than a day. Look at what arrives at the pump.",
            "the wire is too thin for its length": "",
        },
        answer="the wire is too thin for its length",
        hint="How many of the twelve volts arrive?",
        worked=f"{wire} of thin wire keep 15 % of the voltage.",
        why=f"{thick} would keep less than 3 %. So would a battery that stands nearer.",
        learner=learner,
    )
