"""Questions of notebook 01: how many fish?"""

from __future__ import annotations

from aquaplumb.questions.quiz import Order, Pick, Question, Quiz

FAULTY = "too-many-fish"  # the build of "What is wrong here?"; the page calls it by its number


def guess(learner: str = "", units: str = "metric") -> Pick:
    """To answer before looking."""
    return Pick(
        f"Fish eat {'7 oz' if units == 'US' else '200 g'} of feed in a day; the sack says 32 % protein. How much of it leaves them that day as "
        "ammonia, the poison that the beds must turn? (Count only the nitrogen in it.)",
        {
            "50 parts in 100": "Far less. In the picture below look for the thinnest stream.",
            "15 parts in 100": "Less still. In the picture below look for the thinnest stream.",
            "3 parts in 100": "",
        },
        answer="3 parts in 100",
        why="That little is poison, and the beds are built for it.",
        learner=learner,
        gate=True,
    )


def quiz(learner: str = "", units: str = "metric") -> Quiz:
    """Five questions; numbers differ by the learner's name."""
    us = units == "US"
    density, feed = ("lb/gal", "oz/d") if us else ("kg/m³", "g/d")
    mean, peak, half, twice = ("4 oz", "8.5 oz", "6 oz", "17 oz") if us else ("110 g", "240 g", "175 g", "480 g")
    return Quiz(
        "01 How many fish?",
        [
            Question(
                "A tank holds {volume} of water. Before harvest there will be {mass} of fish in it. What is the stocking density?",
                answer=lambda volume, mass: (mass / volume).to(density),
                draw={"volume": ("150 gal", "350 gal", "25 gal"), "mass": ("18 lb", "45 lb", "3 lb")}
                if us
                else {"volume": ("600 L", "1400 L", "100 L"), "mass": ("9 kg", "21 kg", "1 kg")},
                hint="Mass of fish over volume of water." if us else "Mass of fish over volume of water; 1,000 L are 1 m³.",
                worked="{mass} over {volume} is {answer}.",
                why=f"Up to about {'1/6 lb/gal' if us else '20 kg/m³'} air stones and a good flow serve (FAO 589, from memory).",
                learner=learner,
            ),
            Question(
                "{count} fish of {body} each are fed {rate} (of their mass, a day). How much feed is that?",
                answer=lambda count, body, rate: (count * body * rate).to(feed),
                draw={"count": (30, 60, 5), "body": ("10 oz", "20 oz", "2 oz") if us else ("300 g", "500 g", "50 g"), "rate": ["1 %/d", "1.5 %/d", "2 %/d"]},
                hint="First the mass of all fish together; a per cent is a hundredth.",
                worked="{count} × {body} × {rate} is {answer}.",
                why="Weigh it out on a kitchen scale: a handful is a guess.",
                learner=learner,
            ),
            Question(
                "You give {feed} of feed with {protein} protein. How much ammonia (as nitrogen) must the beds turn each day?",
                answer=lambda feed, protein: (feed * protein * 0.092).to(feed.units),
                draw={"feed": ("5 oz/d", "12 oz/d", "1 oz/d") if us else ("150 g/d", "350 g/d", "50 g/d"), "protein": ["28 %", "32 %", "40 %"]},
                slips=[(lambda feed, protein: (feed * protein * 0.16).to(feed.units), "That is all the nitrogen of the feed; a part stays in the fish and in the solids."),
                       (lambda feed, protein: (feed * 0.092).to(feed.units), "The protein is missing: only protein holds nitrogen.")],
                hint="Feed × protein × 0.092.",
                worked="{feed} × {protein} × 0.092 = {answer}.",
                why="Feed richer in protein makes more of it, in step.",
                learner=learner,
            ),
            Pick(
                f"Over a whole year Rosa will feed {mean} a day on average. In the three weeks before each harvest it is "
                f"{peak} a day. For which feed does she build the beds and buy the pump?",
                {
                    f"{mean}/d, since the bad weeks are few":
                        f"Ammonia does not wait for the average: three weeks of {peak} poison the water.",
                    f"{peak}/d": "",
                    f"{half}/d, halfway": "Halfway still falls short in just the weeks when the tank is fullest.",
                    f"{twice}/d, to be quite sure":
                        "Twice the peak costs beds, pump and power for nothing. The margins come later, where they are needed.",
                },
                answer=f"{peak}/d",
                hint="On which day will the fish be worst off?",
                worked=f"everything has to bear the heaviest day, which is {peak}.",
                why="The heaviest day counts; margins are added part by part in the pages to come.",
                learner=learner,
            ),
            Order(
                "At night the pump has stopped, and the fish gasp at the surface. In which order do you act?",
                ["give air, from a battery pump or a bucket poured again and again", "find out why it stopped, and mend it",
                 "test ammonia and nitrite", "feed again, a little"],
                hint="What kills within the hour comes first; feed uses oxygen.",
                worked="oxygen first, then the cause, then the test; feed only when the water is good.",
                why="Fish without oxygen have minutes. They can go days without feed.",
                learner=learner,
            ),
        ],
        learner=learner,
    )  # fmt: skip


def fault(learner: str = "", units: str = "metric") -> Pick:
    """What is wrong with the build named in `FAULTY`?"""
    us = units == "US"
    feed, ammonia, mass, dense, most = (
        ("6.21 oz", "0.228 oz", "48.5 lb", "48.5 lb in 166 gal is 0.29 lb/gal", "0.17")
        if us
        else ("176 g", "6.47 g", "22 kg", "22 kg in 0.628 m³ is 35 kg/m³", "20")
    )
    return Pick(
        "Read its numbers; divide one by another. What did the builder get wrong?",
        {
            "too much feed for that mass of fish": f"{feed} for {mass} is 0.8 % a day: rather little for fish of that size.",
            "too many fish for that much water": "",
            "feed too rich in protein": f"{ammonia} of ammonia from {feed} of feed means 40 % protein: usual for catfish.",
        },
        answer="too many fish for that much water",
        hint="Pounds of fish over gallons of water." if us else "Kilograms of fish over cubic metres of water.",
        worked=f"{dense}; with simple aeration about {most} is the most.",
        why=f"{dense}. A blower alone is no help when the power fails.",
        learner=learner,
    )
