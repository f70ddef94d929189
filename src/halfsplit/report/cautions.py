"""The usual cautions of the bench. source: common practice of the trade, worded here."""

from __future__ import annotations

CAUTIONS = (
    "Sweep and probe with the transmitter off and its supply disconnected, the final stage lifted.",
    "High RF voltage and current burn, also on parts that seem cold and on coax shields. Work on the live path only "
    "into a rated dummy load.",
    "A supply of 20 A and more welds tools: fuse it, cover its terminals, take off rings. Capacitors stay charged.",
    "Power transistors may hold beryllium oxide ceramic: never file, break, grind or overheat it; dispose of it as "
    "local rules say. Heat sinks are hot.",
    "With the forward and reflected power bridge out of the path the level control is blind: drive with care. Keep "
    "within the limits of exposure to radio-frequency fields.",
)

DEFER = (
    "Transmit only as licensed, and into a dummy load for tests. The limits and figures on this sheet are a help; "
    "local codes, the licence and qualified practice decide."
)

LIVE_POWER = (
    "This is live power: into a rated dummy load, covers on, short looks, one hand. High RF voltage and current burn, "
    "also on parts that seem cold and on coax shields.",
    "A supply of 20 A and more welds tools: fuse it, cover its terminals, take off rings.",
    "With the forward and reflected power bridge out of the path the level control is blind: begin with little drive.",
    "Transmit only as licensed; limits of exposure to radio-frequency fields, local codes and qualified practice "
    "decide.",
)
