"""What a field sheet's file may say: declarations, kinds of row with their columns, units and other names. No Django."""

from __future__ import annotations

from typing import NamedTuple

from accounts.wording import noted

DECLARATIONS = {
    "zone": noted("the name of the zone"),
    "sheet": noted("one to four letters, as in the tags of its flaws"),
    "date": noted("a day such as 2031-05-14, 14.05.2031 or 14 May 2031"),
    "units": noted("for example: volts kV, film µm, size mm, temperature °C"),
    "recorder": noted("the name of who recorded"),
}


class RowKind(NamedTuple):
    """What a row may and must say, besides `what`, `date`, `no` and `note`."""

    needs: tuple[str, ...]
    may: tuple[str, ...] = ()
    of_run: bool = False


KINDS = {
    "permit": RowKind(("no", "time", "gas", "tester", "valid until"), ("kind", "limits", "renews")),
    "briefing": RowKind(("time", "people", "gone through"), ("method",)),
    "atmosphere": RowKind(("time", "air", "steel"), ("humidity", "wet bulb", "steel at", "hygrometer", "thermometer")),
    "run": RowKind(
        ("run", "time", "sweeper"),
        ("purpose", "stage", "method", "instrument", "electrode", "set", "basis", "thickness", "surface", "medium", "witness",
         "permit", "cautions"),
    ),
    "return": RowKind(("time", "place"), ("island",), of_run=True),
    "touch": RowKind(("time", "place", "distance", "set", "alarm"), ("island",), of_run=True),
    "check": RowKind(("time", "alarm"), ("measured", "resistor", "phase", "voltmeter"), of_run=True),
    "event": RowKind(("time", "kind"), of_run=True),
    "swept": RowKind(("until", "place"), ("time", "lane", "island"), of_run=True),
    "feature": RowKind(("until", "name"), ("time", "place", "island"), of_run=True),
    "flaw": RowKind(
        ("no", "time", "place"), ("kind", "found by", "along", "around", "depth", "give or take"), of_run=True
    ),
    "spot": RowKind(("time", "place", "reading"), ("stage", "gauge", "area", "shift", "correction", "purpose", "unit is right")),
    "gauge check": RowKind(("time", "gauge", "shim", "measured film", "tolerance"), ("plate",)),
    "close": RowKind(("time",), of_run=True),
    "hand in": RowKind(("time",)),
    "note": RowKind(("note",), ("time",)),
}  # fmt: skip
ALIASES = {
    "start": "time", "from": "time", "end": "until", "to": "until", "number": "no", "tag": "no", "voltage": "set",
    "readings": "reading", "where": "place", "relative humidity": "humidity", "length": "along", "width": "around",
}  # fmt: skip
QUANTITIES = {
    "set": "volts", "measured": "volts", "resistor": "resistance", "thickness": "film", "depth": "film", "reading": "film", "correction": "film", "shim": "film", "measured film": "film", "tolerance": "film", "along": "size",
    "around": "size", "give or take": "size", "distance": "size",
    "air": "temperature", "wet bulb": "temperature", "steel": "temperature",
}  # fmt: skip
UNITS = {
    "volts": ("V", "kV"),
    "resistance": ("Ω", "ohm", "kΩ", "kohm", "MΩ", "Mohm"),
    "film": ("µm", "um", "mm", "mil"),
    "size": ("m", "cm", "mm", "ft", "in"),
    "temperature": ("°C", "C", "°F", "F"),
}
LISTS = {"reading", "steel", "steel at", "people"}
ONCE = {"what", "date", "no", "note", "run", "value"}
COLUMNS = frozenset(ONCE | {name for kind in KINDS.values() for name in (*kind.needs, *kind.may)})
