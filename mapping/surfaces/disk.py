"""Disks and annuli: floors, flat roofs and annular plates of tanks, spoken by azimuth and radius.

x runs towards azimuth 90 deg, y towards azimuth 0, with the origin at the centre. No Django.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, ClassVar

from accounts.wording import say
from mapping.positions import Chainage
from mapping.surfaces.polar import Polar
from mapping.surfaces.sizes import check_names, check_numbers, one_of, within

DIAMETERS = (0.1, 200.0)


@dataclass(frozen=True, kw_only=True)
class Disk(Polar):
    """A disk of this `diameter` (m), `viewed` from above or below; its lanes run straight, along x.

    Examples
    --------
    >>> Disk(diameter=20).print_place(3.0, -4.0)
    '143.13 deg, r 5.00 m'
    """

    kind: ClassVar[str] = "disk"

    diameter: float
    viewed: str = "above"
    face: str = "inside"
    chainage: Chainage = field(default_factory=Chainage)

    def __post_init__(self) -> None:
        within("diameter", self.diameter, *DIAMETERS)
        one_of("viewed", self.viewed, "above", "below")
        one_of("face", self.face, "outside", "inside")

    @classmethod
    def from_json(cls, json: Mapping[str, Any], face: str, chainage: Chainage) -> Disk:
        """The disk of `{"diameter", "viewed"}`, in metres, viewed from "above" (or left out) or "below".

        Raises
        ------
        SurfaceError
            Naming the field that is missing, unknown, no number or out of range.
        """
        check_names(say("a disk"), json, ("diameter",), ("viewed",))
        check_numbers(json, ("diameter",))
        return cls(**json, face=face, chainage=chainage)

    def to_json(self) -> dict[str, Any]:
        return {"diameter": self.diameter, "viewed": self.viewed}

    @property
    def inner(self) -> float:
        return 0.0

    @property
    def outer(self) -> float:
        return self.diameter / 2

    @property
    def area(self) -> float:
        return math.pi * (self.outer**2 - self.inner**2)


@dataclass(frozen=True, kw_only=True)
class Annulus(Disk):
    """A ring between `inner_diameter` and `diameter` (m); its lanes run around."""

    kind: ClassVar[str] = "annulus"
    ring_lanes: ClassVar[bool] = True

    inner_diameter: float

    def __post_init__(self) -> None:
        super().__post_init__()
        within("inner_diameter", self.inner_diameter, 0.01, self.diameter - 0.01)

    @classmethod
    def from_json(cls, json: Mapping[str, Any], face: str, chainage: Chainage) -> Annulus:
        """The annulus of `{"diameter", "inner_diameter", "viewed"}`; see `Disk.from_json`."""
        check_names(say("an annulus"), json, ("diameter", "inner_diameter"), ("viewed",))
        check_numbers(json, ("diameter", "inner_diameter"))
        return cls(**json, face=face, chainage=chainage)

    def to_json(self) -> dict[str, Any]:
        return {"diameter": self.diameter, "inner_diameter": self.inner_diameter, "viewed": self.viewed}

    @property
    def inner(self) -> float:
        return self.inner_diameter / 2
