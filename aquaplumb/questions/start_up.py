"""Questions of notebook 12: how do you start it, and keep the water right?"""

from __future__ import annotations

from aquaplumb.questions.quiz import Order, Pick, Question, Quiz
from aquaplumb.units import u

FAULTY = "all-fish-on-day-one"  # the build of "What is wrong here?"; the page calls it by its number
_BACTERIA = 7.15  # of alkalinity as CaCO3 for one of ammonia N: 100.09 / 14.007, stoichiometry


def guess(learner: str = "") -> Pick:
    """To answer before looking."""
    return Pick(
        "New system, new gravel, all its fish in on the first day. On the tenth day ammonia is high. In the third week it falls at last: 0.2 mg/L. "
        "And now the fish hang at the top and gasp, although there is oxygen. What has happened?",
        {
            "the ammonia comes back": "It is down to stay. Look at the second strip below.",
            "nitrite has taken its place": "",
            "nitrate is too high": "Nitrate comes last, and fish bear a hundred times as much of it.",
        },
        answer="nitrite has taken its place",
        why="The first bacteria turn ammonia to nitrite; the second, which turn nitrite to nitrate, come weeks later. Nitrite makes the blood brown: it carries no oxygen.",
        learner=learner,
        gate=True,
    )


def quiz(learner: str = "", units: str = "metric") -> Quiz:
    """Seven questions; numbers differ by the learner's name."""
    us = units == "US"
    in_a_gallon = " A gallon is 3.785 of the L in mg/L." if us else ""
    return Quiz(
        "12 Start-up and upkeep",
        [
            Question(
                "All of your water is {water}. How much ammonium chloride brings it to 2 mg/L of ammonia, as N? A gram of N is in 3.82 g of the salt.",
                answer=lambda water: (water * 2 * u.mg / u.L * 3.82).to("g"),
                draw={"water": ("200 gal", "800 gal", "50 gal") if us else ("800 L", "3000 L", "100 L")},
                slips=[(lambda water: (water * 2 * u.mg / u.L).to("g"), "That is the N alone; the salt is mostly something else.")],
                hint=f"Water × 2 mg/L is the N; times 3.82.{in_a_gallon}",
                worked="{water} × 2 mg/L × 3.82 = {answer}.",
                why="Weigh it, do not guess by the spoon. No soap, no scent, never near bleach.",
                learner=learner,
            ),
            Question(
                "Your bacteria turn {ammonia} of ammonia N, in {water} of water. A gram of N takes 7.15 g of alkalinity (as CaCO3) with it. By how much does the "
                "alkalinity fall in a day?",
                answer=lambda ammonia, water: (ammonia * (1 * u.day) * _BACTERIA / water).to("mg/L"),
                draw={"ammonia": ("3 g/d", "8 g/d", "1 g/d"), "water": ("250 gal", "650 gal", "50 gal") if us else ("1000 L", "2500 L", "250 L")},
                slips=[(lambda ammonia, water: (ammonia * (1 * u.day) / water).to("mg/L"), "That is the ammonia; each gram takes 7.15 g of alkalinity.")],
                hint="Grams of N × 7.15, shared out over all the water; 1 g in " + ("264 gal" if us else "1,000 L") + " is 1 mg/L.",
                worked="{ammonia} × 7.15, in {water}, is {answer} in a day.",
                why="So 100 mg/L is gone in days, in two weeks at the most. Plants give some back when they take nitrate; test it each week.",
                learner=learner,
            ),
            Question(
                "You top up {added} a day from a tap with {chlorine} of chlorine. Ascorbic acid takes 2.48 g for each gram of chlorine. How much does each day's water need?",
                answer=lambda added, chlorine: (added * chlorine * 2.48).to("mg"),
                draw={"added": ("5 gal", "20 gal", "5 gal") if us else ("20 L", "80 L", "10 L"), "chlorine": ("0.5 mg/L", "2 mg/L", "0.5 mg/L")},
                slips=[(lambda added, chlorine: (added * chlorine).to("mg"), "That is the chlorine; the acid weighs 2.48 times as much.")],
                hint=("Gallons × 3.785" if us else "Litres") + " × mg/L = mg of chlorine; × 2.48.",
                worked="{added} × {chlorine} × 2.48 = {answer}.",
                why="A pinch; treat the bucket before it goes in. Standing a day drives out chlorine, but not chloramine.",
                learner=learner,
            ),
            Question(
                "Your kit says {nitrite} of nitrite, as NO2. Handbooks ask for ten times that much chloride. How much chloride does the water need?",
                answer=lambda nitrite: nitrite * 10,
                draw={"nitrite": ("2 mg/L", "8 mg/L", "1 mg/L")},
                slips=[(lambda nitrite: nitrite * 10 * 3.2845, "Your kit reads as NO2 already; the 3.28 is for one that reads as N."),
                       (lambda nitrite: nitrite * 10 / 3.2845, "That would turn it to N, and protect a third: ten to one is as NO2.")],
                hint="Ten times what the kit says.",
                worked="{nitrite} × 10 = {answer}.",
                why="A kit that reads as N shows 3.28 times less for the same water; then it is 33 to one. Read its leaflet.",
                learner=learner,
            ),
            Order(
                "A bed's media are full of sludge. Put the cleaning in order:",
                [
                    "fill a bucket from the system",
                    "lift out a third of the media and rinse it in that bucket",
                    "put it back, wet, within the hour",
                    "feed a third less, and test ammonia and nitrite each day",
                    "wait two to four weeks before the next third",
                ],
                hint="System water first: tap water's chlorine kills the biofilm.",
                worked="bucket, a third, back, feed less and test, wait.",
                why="Two thirds of the bacteria go on working. All at once, and you start from the first week again.",
                learner=learner,
            ),
            Pick(
                f"pH 8.3, {'82 °F' if us else '28 °C'}, ammonia 1.5 mg/L, alkalinity low. What first?",
                {
                    "base, since the alkalinity is low": "It lifts the pH, and turns still more of the ammonia poisonous.",
                    "stop feeding, and change a quarter of the water": "",
                    "acid, to bring the pH down at once": "A pH that jumps hurts fish as well, and eats what alkalinity is left.",
                },
                answer="stop feeding, and change a quarter of the water",
                hint="Try these numbers in the second what-if.",
                worked="un-ionised ammonia is more than three times what gills bear: less ammonia first, by less feed and new water.",
                why="New water without chlorine, of the same warmth. Base comes when the ammonia is down.",
                learner=learner,
            ),
            Pick(
                "Day 12 of your start with ammonia: ammonia 0.1 mg/L, nitrite 4 mg/L. A friend offers fish today. You …",
                {
                    "take them: the ammonia is gone": "Half of the work is done. Nitrite is four times what most fish bear.",
                    "go on dosing, and take them when a dose is gone within a day, nitrite too": "",
                    "stop dosing until nitrite is gone, then take them": "The first bacteria starve meanwhile, and the fish's ammonia meets fewer of them.",
                },
                answer="go on dosing, and take them when a dose is gone within a day, nitrite too",
                hint="What do both groups of bacteria live on?",
                worked="both readings near nil a day after a full dose: that is ready, whatever the calendar says.",
                why="Then change most of the water if nitrate is high, stock a part of the fish, and feed little.",
                learner=learner,
            ),
        ],
        learner=learner,
    )  # fmt: skip


def fault(learner: str = "") -> Pick:
    """What is wrong with the build named in `FAULTY`?"""
    return Pick(
        "Read its numbers; the beds are new. What kills these fish in the first weeks?",
        {
            "the alkalinity, which lasts only some days": "It does last only days, and yet a base a day puts it back.",
            "the ammonia of all the fish, day by day, on beds without bacteria": "",
            "the make-up water": "It is a hundredth of the water a day, and brings no chlorine.",
        },
        answer="the ammonia of all the fish, day by day, on beds without bacteria",
        hint="What does the ammonia reach on the second day? This species bears 2 mg/L.",
        worked="2.2 mg/L a day passes 2 mg/L within the first day, and bacteria take weeks.",
        why="No fish at all until ammonia out of a bottle is gone within a day; or a good part of a healthy system's old media, half of the fish at first, and the rest over six weeks.",
        learner=learner,
    )
