"""Questions of notebook 04: which size of pipe?"""

from __future__ import annotations

from aquaplumb.questions.quiz import Order, Pick, Question, Quiz

FAULTY = "riser-too-thin"  # the build of "What is wrong here?"; the page calls it by its number


def guess(learner: str = "") -> Pick:
    """To answer before looking."""
    return Pick(
        "How fast should the water run in the pumped pipes of a small fish system?",
        {
            "as slow as can be: then it loses the least head": "It does, and dirt settles in it. Look at the green band in the picture below.",
            "about one metre (3 ft) a second, a slow walk": "",
            "three metres (10 ft) a second, so that nothing can settle":
                "Nothing settles, but it roars, eats the pump's head and strikes when it is stopped. Look at the green band below.",
        },
        answer="about one metre (3 ft) a second, a slow walk",
        why="Fast enough to carry its dirt, slow enough to be quiet.",
        learner=learner,
        gate=True,
    )  # fmt: skip


def quiz(learner: str = "") -> Quiz:
    """Five questions; numbers differ by the learner's name."""
    return Quiz(
        "04 Which pipe?",
        [
            Question(
                "A pipe measures {outside} on the outside, and its wall is {wall} thick. What is its bore?",
                answer=lambda outside, wall: outside - 2 * wall,
                draw={"outside": ["32 mm", "40 mm", "50 mm", "63 mm"], "wall": ["1.9 mm", "2.4 mm", "3 mm"]},
                slips=[(lambda outside, wall: outside - wall, "A pipe has a wall on both sides."),
                       (lambda outside, wall: outside, "That is the number on the label. The wall stands inside it.")],
                hint="Take the wall off twice: once at each side.",
                worked="{outside} less twice {wall} is {answer}.",
                why="Metric pipe is named by its outside. Inch pipe is named by neither.",
                learner=learner,
            ),
            Question(
                "{flow} runs through a pipe with a bore of {bore}. How fast? (In m/s.)",
                answer=lambda flow, bore: (flow / (3.14159265 * bore**2 / 4)).to("m/s"),
                draw={"flow": ("1000 L/h", "2400 L/h", "200 L/h"), "bore": ["21.2 mm", "26.1 mm", "27.2 mm"]},
                slips=[(lambda flow, bore: (flow / (3.14159265 * bore**2)).to("m/s"), "The area of a circle is π/4 × bore × bore. You took the bore for a radius."),
                       (lambda flow, bore: (flow / bore**2).to("m/s"), "The hole is round: its area is π/4 × bore × bore.")],
                hint="Speed = flow ÷ area, the area π/4 × bore × bore. Turn L/h into m³/s first: ÷ 3,600,000.",
                worked="the flow in m³/s, divided by π/4 × bore × bore in m², is {answer}.",
                why="0.6 to 1.5 m/s is the band to aim at.",
                learner=learner,
            ),
            Question(
                "Ten metres of pipe lose {loss} at 900 L/h. You now send 1,800 L/h through it. In swirling flow the head lost grows "
                "with about the 1.75th power of the flow (2 to the 1.75 is 3.4). How much does it lose?",
                answer=lambda loss: 3.4 * loss,
                draw={"loss": ("10 cm", "30 cm", "5 cm")},
                slips=[(lambda loss: 2 * loss, "Twice the flow loses more than twice the head: 3.4 times.")],
                hint="Twice the flow, 3.4 times the head.",
                worked="3.4 × {loss} = {answer}.",
                why="So a little less flow saves a lot of head.",
                learner=learner,
            ),
            Pick(
                "A riser of 12 m is to carry 1,700 L/h. After the lift, your pump has 1.0 m of head left for pipe and fittings. "
                "Which PN16 pipe do you take?",
                {
                    "25 mm: 1.3 m/s, loses 1.2 m": "It loses more than the pump has left: you would never see 1,700 L/h.",
                    "32 mm: 0.8 m/s, loses 0.4 m": "",
                    "40 mm: 0.5 m/s, loses 0.13 m": "It would work; but at that speed dirt settles in it, and it costs more.",
                    "50 mm: 0.3 m/s, loses 0.04 m": "The pump would hardly feel it; but in so slow a pipe all the dirt stays down.",
                },
                answer="32 mm: 0.8 m/s, loses 0.4 m",
                hint="Leave head for the fittings and for slime; keep the speed in the band.",
                worked="its speed is in the band, and it leaves more than half of the head for fittings and slime.",
                why="In the band, and 0.6 m of head is left for fittings and slime.",
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


def fault(learner: str = "") -> Pick:
    """What is wrong with the build named in `FAULTY`?"""
    return Pick(
        "Which pipe is wrong, and how?",
        {
            "the riser is too thin": "",
            "the pipe to the tank is too thin": "It runs just inside the band. Which stretch has more than twice that speed?",
            "the pipe to the bed is too wide: dirt settles": "Its speed is inside the band.",
            "none: the pump brings more than enough": "More than three times what is wanted, and most of its head is lost on the way. Compare head and lift.",
        },
        answer="the riser is too thin",
        hint="Look for a speed far from 0.6 to 1.5 m/s, then compare the head of the pump with the lift.",
        worked="3.66 m/s in the riser; the head is 4.06 m and the lift only 1.25 m: the rest is lost, most of it there.",
        why="A wider riser and a far smaller pump would bring the same water for a fraction of the power.",
        learner=learner,
    )
