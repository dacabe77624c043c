"""Cautions by method: a few words at each run, in full once a day, acknowledged by name.

They help a competent person and authorise nothing: neither entry nor work.
"""

from __future__ import annotations

from typing import NamedTuple

from accounts.wording import noted, say
from inspections.standing import Method

SOURCE = noted("common practice of the trade; the maker's instructions, local codes and the permit rule")


class Cautions(NamedTuple):
    """Sentences to show, the gravest first."""

    short: tuple[str, ...]
    full: tuple[str, ...]
    source: str = SOURCE


_CLOSING = (
    noted("Enter a confined space only under its permit."),
    noted("Write down the permit: its number, the gas reading, who tested it and when it expires."),
    noted(
        "Barespot never authorises entry or work. Its figures help a competent person; they "
        "replace neither the standard, the product data sheet, local codes nor licensed "
        "practice."
    ),
)
_SWEEPING = (
    noted("One person sweeps, another records. Never touch a phone or tablet with a live probe in the other hand."),
    noted("A startle is a fall: nobody sweeps alone on a ladder or at the edge of a scaffold."),
)
_HIGH_VOLTAGE_SHORT = (
    noted("The spark can ignite gas: hot-work permit and gas test first, never over solvent or uncured film."),
    noted("Nobody with a pacemaker or another implanted device takes part or stands near."),
    noted("Return lead on before power; power off before a lead is changed."),
    noted("Discharge the film and unearthed steel to earth before touching."),
    noted("Dry surface, gloves and footwear. No rain."),
    noted("One sweeps, another records."),
)
_HIGH_VOLTAGE_FULL = (
    noted("Only trained people use the detector, and by its maker's instructions."),
    noted(
        "The spark is an ignition source: work under a hot-work permit after a gas test, and "
        "never over solvent or film that is not cured."
    ),
    noted(
        "A phone or tablet can ignite gas too: it is rated for the area, or the permit says the area is free of gas."
    ),
    noted("Nobody with a pacemaker or another implanted device uses the detector or stands near one in use."),
    noted("Surface, gloves and footwear are dry. Stop when it rains."),
    noted("Connect the return before switching on. Switch off before changing a lead, an electrode or a battery."),
    noted("Film and unearthed pipe keep a charge after the sweep: discharge them to earth before touching."),
    noted("Nobody else touches the same steel, on the other side of the bulkhead too."),
)
_PULSED = noted(
    "The output is a train of peaks. A plain voltmeter shows far less than what strikes "
    "you: measure the peak with an instrument made for it."
)
_SPONGE_SHORT = (
    noted("The film gets wet: mind your footing and keep water off live equipment."),
    noted("The return lead is clipped on before power, and off after it."),
    noted("One sweeps, another records."),
)
_SPONGE_FULL = (
    noted("Only trained people use the detector, and by its maker's instructions."),
    noted(
        "The voltage is low, but the detector and the phone can still ignite gas: test for gas, and follow the permit."
    ),
    noted("Ask before using a wetting agent: it can slip, sting and spoil the next coat."),
    noted("Wet ground is slippery: keep ladders and walkways dry, and water off live equipment."),
    noted("Connect the return before switching on, and switch off before changing a lead."),
)
_VISUAL_SHORT = (
    noted("Look where you step: light, footing and edges first."),
    noted("In a confined space only under its permit."),
)
_VISUAL_FULL = (
    noted("Light the place well enough to see the film and the way out."),
    noted(
        "Lamp, phone and tablet can ignite gas: they are rated for the area, or the permit "
        "says the area is free of gas."
    ),
    noted("Fresh film gives off solvent: ventilate, and wear what the product's safety sheet asks for."),
    noted("Nobody looks alone on a ladder or at the edge of a scaffold."),
)

_BY_METHOD: dict[Method, Cautions] = {
    "high_voltage_dc": Cautions(_HIGH_VOLTAGE_SHORT, (*_HIGH_VOLTAGE_FULL, *_SWEEPING, *_CLOSING)),
    "high_voltage_pulsed": Cautions(_HIGH_VOLTAGE_SHORT, (*_HIGH_VOLTAGE_FULL, _PULSED, *_SWEEPING, *_CLOSING)),
    "wet_sponge": Cautions(_SPONGE_SHORT, (*_SPONGE_FULL, *_SWEEPING, *_CLOSING)),
    "visual": Cautions(_VISUAL_SHORT, (*_VISUAL_FULL, *_CLOSING)),
}


def cautions(method: Method) -> Cautions:
    """Return the cautions of a method. Raises ValueError naming the methods there are."""
    if method not in _BY_METHOD:
        raise ValueError(
            say("method is {method!r}; it must be one of {by_method}", method=method, by_method=", ".join(_BY_METHOD))
        )
    return _BY_METHOD[method]
