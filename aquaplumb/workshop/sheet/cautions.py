"""What can hurt while a system is built and run: a chapter of its sheet."""

from __future__ import annotations

from aquaplumb.power import shock_protection

_CAUTIONS = (
    "Electricity and water. Every mains pump, heater and socket near water hangs on a {protection}. Give each cord a drip loop, and keep sockets out of splash. Unplug before you reach into the water. A device that trips stops the pump too: fit an alarm, and put the spare air on another supply. Fixed wiring is for a licensed electrician, by your local code.",
    "Batteries. A battery can give hundreds of amperes: a fuse for the wire within a hand's breadth of the plus pole, no ring or loose tool near the poles. Lead-acid gives off hydrogen: open air, no spark, goggles. Do not charge lithium below freezing. Charge with a charger made for the kind.",
    "Drowning. A child drowns in a hand's depth of water, without a sound. Cover or fence every tank and sump, also while you build.",
    "Lifting. A litre of water is a kilogram, a gallon 8.3 lb. Move tanks empty, with two people; shovel wet media in small loads.",
    "Floor load. A thousand litres weigh a tonne. Set tanks on level, firm ground. Decks, roofs, balconies and framed floors need a structural engineer.",
    "Solvent cement and primer. They burn easily and make you dizzy: open air, no flame or spark, gloves and goggles. Keep the waiting times. Throw away the first water.",
    "Tools. Goggles for sawing and drilling. Never use a mains tool with wet hands or standing in water.",
    "Food. Food-safe tanks and pipe marked for drinking water. Keep fish water off leaves and fruit that are eaten raw; wash hands and harvest. Keep animals and their droppings out. No galvanised steel, copper or brass in the water.",
    "Acids and bases. Goggles and gloves; always into water, never water onto them; never two together.",
    "Drinking water. Never join the system to the supply without an air gap or a backflow preventer.",
    "Fish. They suffer from our mistakes. Take chlorine and chloramine out of tap water. Grow the bacteria for weeks before full stocking; test ammonia and nitrite. Stock lightly. Have spare air before fish. Kill humanely; never release them. Many species need a licence.",
    "Your local building, electrical, plumbing, water and animal-welfare rules stand above this sheet. It checks arithmetic; it does not see your site.",
)


def cautions(units: str) -> tuple[str, ...]:
    """What can hurt, with the device that cuts the mains as the build's own country calls it."""
    return tuple(one.replace("{protection}", shock_protection(units)) for one in _CAUTIONS)
