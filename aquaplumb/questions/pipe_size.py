"""Questions of notebook 04: which size of pipe?"""

from __future__ import annotations

from aquaplumb.questions.quiz import Order, Pick, Question, Quiz

FAULTY = "riser-too-thin"  # the build of "What is wrong here?"; the page calls it by its number


def guess(learner: str = "", units: str = "metric") -> Pick:
    """To answer before looking."""
    flow, wide, narrow = ("959 gal/h", "1.34 in", "0.804 in") if units == "US" else ("3,630 L/h", "34 mm", "21.2 mm")
    return Pick(
        f"A riser's hole is {wide} wide, and {flow} rise in it. You have narrower pipe left over, with a hole of {narrow}, and build the riser "
        "from that. The water rubs along its wall, which costs height. For the same flow, how much more?",
        {
            "not quite twice as much": "The water is also faster now, and rubs harder.",
            "about four times as much": "More than that: less room makes it faster, and speed counts nearly twice over.",
            "about ten times as much": "",
        },
        answer="about ten times as much",
        why=f"The water runs {'nearly three' if units == 'US' else 'two and a half'} times as fast, and in a narrow pipe more of it rubs.",
        learner=learner,
        gate=True,
    )


def quiz(learner: str = "", units: str = "metric") -> Quiz:
    """Five questions; numbers differ by the learner's name."""
    us = units == "US"
    speed, band = ("ft/s", "2 to 5 ft/s") if us else ("m/s", "0.6 to 1.5 m/s")
    once, twice = ("240 gal/h", "480 gal/h") if us else ("900 L/h", "1,800 L/h")
    length, flow, left, kind = ("40 ft", "450 gal/h", "3 ft", "Schedule 40") if us else ("12 m", "1,700 L/h", "1.0 m", "PN16")
    spare = "1.5 ft" if us else "0.6 m"
    thin, right, wide, wider = (
        (
            "3/4 in: 4.7 ft/s, loses 5 ft",
            "1 in: 2.9 ft/s, loses 1.5 ft",
            "1 1/4 in: 1.7 ft/s, loses 0.4 ft",
            "1 1/2 in: 1.2 ft/s, loses 0.2 ft",
        )
        if us
        else ("25 mm: 1.3 m/s, loses 1.2 m", "32 mm: 0.8 m/s, loses 0.4 m", "40 mm: 0.5 m/s, loses 0.13 m", "50 mm: 0.3 m/s, loses 0.04 m")
    )
    return Quiz(
        "04 Which pipe?",
        [
            Question(
                "A pipe measures {outside} on the outside, and its wall is {wall} thick. What is its bore?",
                answer=lambda outside, wall: outside - 2 * wall,
                draw={"outside": ["1.32 in", "1.66 in", "1.9 in", "2.38 in"], "wall": ["0.11 in", "0.14 in", "0.16 in"]}
                if us
                else {"outside": ["32 mm", "40 mm", "50 mm", "63 mm"], "wall": ["1.9 mm", "2.4 mm", "3 mm"]},
                slips=[(lambda outside, wall: outside - wall, "A pipe has a wall on both sides."),
                       (lambda outside, wall: outside, "That is its outside. The wall stands inside it.")],
                hint="Take the wall off twice: once at each side.",
                worked="{outside} less twice {wall} is {answer}.",
                why="Metric pipe is named by its outside. Inch pipe is named by neither.",
                learner=learner,
            ),
            Question(
                f"{{flow}} runs through a pipe with a bore of {{bore}}. How fast? (In {speed}.)",
                answer=lambda flow, bore: (flow / (3.14159265 * bore**2 / 4)).to(speed),
                draw={"flow": ("260 gal/h", "640 gal/h", "20 gal/h"), "bore": ["0.804 in", "1.03 in", "1.36 in"]}
                if us
                else {"flow": ("1000 L/h", "2400 L/h", "200 L/h"), "bore": ["21.2 mm", "26.1 mm", "27.2 mm"]},
                slips=[(lambda flow, bore: (flow / (3.14159265 * bore**2)).to(speed), "The area of a circle is π/4 × bore × bore. You took the bore for a radius."),
                       (lambda flow, bore: (flow / bore**2).to(speed), "The hole is round: its area is π/4 × bore × bore.")],
                hint="Speed = flow ÷ area, the area π/4 × bore × bore. "
                + ("A gallon is 231 in³, an hour 3,600 s, a foot 12 in." if us else "Turn L/h into m³/s first: ÷ 3,600,000."),
                worked="the flow of one second, divided by π/4 × bore × bore, is {answer}.",
                why=f"{band} is the band to aim at.",
                learner=learner,
            ),
            Question(
                f"A stretch of pipe loses {{loss}} at {once}. You now send {twice} through it. In swirling flow the head lost grows "
                "with about the 1.75th power of the flow (2 to the 1.75 is 3.4). How much does it lose?",
                answer=lambda loss: 3.4 * loss,
                draw={"loss": ("4 in", "12 in", "2 in") if us else ("10 cm", "30 cm", "5 cm")},
                slips=[(lambda loss: 2 * loss, "Twice the flow loses more than twice the head: 3.4 times.")],
                hint="Twice the flow, 3.4 times the head.",
                worked="3.4 × {loss} = {answer}.",
                why="So a little less flow saves a lot of head.",
                learner=learner,
            ),
            Pick(
                f"A riser of {length} is to carry {flow}. After the lift, your pump has {left} of head left for pipe and fittings. "
                f"Which {kind} pipe do you take?",
                {
                    thin: f"It loses more than the pump has left: you would never see {flow}.",
                    right: "",
                    wide: "It would work; but at that speed dirt settles in it, and it costs more.",
                    wider: "The pump would hardly feel it; but in so slow a pipe all the dirt stays down.",
                },
                answer=right,
                hint="Leave head for the fittings and for slime; keep the speed in the band.",
                worked="its speed is in the band, and it leaves half of the head for fittings and slime.",
                why=f"In the band, and {spare} of head is left for fittings and slime.",
                learner=learner,
            ),
            Order(
                "You glue a PVC joint. Put the steps in order.",
                [
                    "cut square, take off the burr",
                    "fit it dry and mark how deep it goes",
                    "cleaner or primer, as the tin says",
                    "cement on both parts",
                    "push home with a quarter turn and hold",
                    "wait for the curing time on the tin",
                    "water and pressure",
                ],
                hint="A dry fit comes before anything sticky; pressure comes last of all.",
                worked="fit before glue, cure before pressure.",
                why="Most leaks come from a dirty, short or hurried joint (common practice, no source).",
                learner=learner,
            ),
        ],
        learner=learner,
    )  # fmt: skip


def fault(learner: str = "", units: str = "metric") -> Pick:
    """What is wrong with the build named in `FAULTY`?"""
    speeds, fast, head, lift = (
        ("2 to 5 ft/s", "12 ft/s", "13.3 ft", "4.1 ft") if units == "US" else ("0.6 to 1.5 m/s", "3.66 m/s", "4.06 m", "1.25 m")
    )
    return Pick(
        "Which pipe is wrong, and how?",
        {
            "the riser is too thin": "",
            "the pipe to the tank is too thin": "It runs just inside the band. Which stretch has more than twice that speed?",
            "the pipe to the bed is too wide: dirt settles": "Its speed is inside the band.",
            "none: the pump brings more than enough": "More than three times what is wanted, and most of its head is lost on the way. Compare head and lift.",
        },
        answer="the riser is too thin",
        hint=f"Look for a speed far from {speeds}, then compare the head of the pump with the lift.",
        worked=f"{fast} in the riser; the head is {head} and the lift only {lift}: the rest is lost, most of it there.",
        why="A wider riser and a far smaller pump would bring the same water for a fraction of the power.",
        learner=learner,
    )
