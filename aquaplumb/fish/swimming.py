"""How long fish of a mass are, and how fast a current they can hold out against for good."""

from __future__ import annotations

import numpy as np

from aquaplumb.units import NUMBER, BodyMass, DesignError, Length, Number, Speed, check_range, not_above, takes_quantities

PLUMP = 1.85  # Fulton's factor of Nile tilapia, the plumpest that we have seen in print: the shortest fish of a mass
LENGTHS = 1.9  # body lengths a second that can be kept up for good


@takes_quantities
def body_length(body_mass: BodyMass, *, condition: Number = PLUMP) -> Length:
    """The length of a fish of a mass.

    condition: Fulton's factor, 0.5 (an eel) to 3; of a species see ``data/species.csv``. The usual one is that of a
        plump fish, so that the length is rather too short: the careful side for `swimming_limit`.

    L = (100 W / K)^(1/3), W in g and L in cm. A fish of a species is plumper or leaner by a third: its length differs by
    a tenth.

    Source: Fulton's K = 100 W / L³, Froese, Journal of Applied Ichthyology 22 (2006) 241. K 1.85, 5,778 Nile tilapia of
    Lake Chamo (Shija, J. Agric. Environ. Sci.); 1.66 of Koka Reservoir (Asmamaw and others, 2019).

    >>> from aquaplumb import fish
    >>> print(round(fish.body_length("350 g").to("cm"), 1))
    26.6 cm
    """
    if not_above(body_mass, 0):
        raise DesignError("the fish's weight has to be more than 0, such as 350 g.")
    check_range(condition, 0.5, 3.0, NUMBER, "body_length: condition", "Fulton's factor of fish")
    return 0.01 * np.cbrt(100.0 * 1000.0 * np.asarray(body_mass) / condition)[()]


@takes_quantities
def swimming_limit(length: Length) -> Speed:
    """The fastest current that fish of a length bear for good.

    length: Of the smallest fish, see `body_length`.
    returns: 1.9 body lengths a second. Sick, crowded or underfed fish bear less, and so do all in water short of oxygen.

    Source: tilapia swim for good under 1.91 body lengths a second (Primeswari, Nofrizal and Sari, study in a flume tank,
    JOM Faperika). Young salmon grew as well at 1.5 as at 0.5, and worse at 3.0 (Parker and Barnes, Open Journal of Animal
    Sciences 4 (2014) 244). Print from memory has 0.5 to 2.

    >>> from aquaplumb import fish
    >>> print(round(fish.swimming_limit("20 cm"), 2))
    0.38 m/s
    """
    return LENGTHS * length
