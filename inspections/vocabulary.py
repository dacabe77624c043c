"""The words that specifications and voltage rules share: each key is what is stored, its text what people read."""

from __future__ import annotations

from accounts.wording import noted

METHODS = {
    "high_voltage_dc": noted("high voltage, continuous DC"),
    "high_voltage_pulsed": noted("high voltage, pulsed DC"),
    "wet_sponge": noted("wet sponge"),
    "visual": noted("visual"),
}
HIGH_VOLTAGE = ("high_voltage_dc", "high_voltage_pulsed")
THICKNESS_BASES = {
    "nominal": noted("nominal thickness"),
    "specified minimum": noted("specified minimum thickness"),
    "measured mean": noted("mean of the readings"),
    "measured minimum": noted("lowest reading"),
    "measured maximum": noted("highest reading"),
}
FAMILIES = {
    "pipeline": noted("pipeline coating"),
    "fusion-bonded epoxy": noted("fusion-bonded epoxy"),
    "three-layer polyolefin": noted("three-layer polyolefin"),
    "tank lining": noted("tank lining"),
    "other": noted("another film"),
}
CONDITIONS = {"new": noted("new film"), "in service": noted("film in service")}
SUBSTRATES = {"steel": noted("steel"), "concrete": noted("concrete")}
MEDIA = {"air": noted("air"), "water": noted("water"), "water with wetting agent": noted("water with wetting agent")}
KINDS = {
    "project specification": noted("project specification"),
    "product data sheet": noted("product data sheet"),
    "standard": noted("standard"),
    "rule of thumb": noted("rule of thumb"),
}
PRECEDENCE = ("project specification", "product data sheet", "standard")
PROVENANCES = {
    "published": noted("published"),
    "from memory": noted("from memory"),
    "common practice": noted("common practice, no source"),
    "owner": noted("entered by the owner"),
}
UNITS = {"um": noted("µm"), "mm": noted("mm"), "mil": noted("mil")}

CONDUCTIVE = noted(
    "conductive films (zinc-rich, carbon, static-dissipative) cannot be tested through to the substrate "
    "(common practice, no source)"
)

THICKNESS_RULES = {
    "SSPC-PA 2": noted("SSPC-PA 2: spots and area measurements"),
    "ISO 19840": noted("ISO 19840: single readings, 80/20"),
    "90/10": noted("90/10 rule: single readings, IMO MSC.215(82)"),
}
THICKNESS_SYSTEMS = {
    "metric": noted("metric areas (10, 30, 100 m²)"),
    "customary": noted("customary areas (100, 300, 1000 ft²)"),
}
PROFILES = {
    "": noted("nothing is subtracted: the gauge is zeroed on the profile"),
    "fine": noted("fine profile: 10 µm subtracted"),
    "medium": noted("medium profile: 25 µm subtracted"),
    "coarse": noted("coarse profile: 40 µm subtracted"),
    "unknown": noted("profile not known: 25 µm subtracted"),
}
PATCH_SHAPES = {"square": noted("square to the zone's axes"), "round": noted("round")}
INTEGER_RULES = {
    "floor": noted("rounded down"),
    "nearest": noted("rounded to the nearest"),
    "ceiling": noted("rounded up"),
}
BOUNDS = {"two-sided": noted("two-sided 95 %"), "one-sided": noted("one-sided 95 %")}
AREA_UNITS = {"m2": noted("m²"), "ft2": noted("ft²")}
RECOAT_AREAS = {
    "flaw": noted("the flaws themselves"),
    "prepared": noted("the prepared area"),
    "patch": noted("the finished patches"),
}
RECOAT_WINDOWS = {
    "exact": noted("the zone as it is"),
    "down": noted("whole areas, rounded down"),
    "up": noted("whole areas, rounded up"),
}
