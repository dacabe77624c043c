"""The surface a worksheet is asked about: the same forms and the same words of refusal as for a zone."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.stations import StationEquationsField, check_equations
from accounts.wording import say
from accounts.worksheets import WorksheetGiven
from mapping.actions.zones import surface_given
from mapping.positions import Chainage, StationEquation
from mapping.surface_forms import FORMS, KIND_CHOICES, SizesField
from mapping.zones import Zone

SPOKEN = [
    ("metric", _("metric: 1+250.40 is km + m")),
    ("imperial", _("imperial: 12+34.5 is 100-ft stations + ft")),
    ("survey", _("imperial, US survey foot")),
]
MOST_EQUATIONS = 50
STATIONED = ("pipe", "bend")
EXAMPLES: Mapping[str, Mapping[str, Any]] = {
    "pipe": {"diameter": 1.22, "start": "1+000.00", "end": "1+096.00"},
    "bend": {"start": "1+000.00", "end": "1+002.40", "area": 9.2},
    "strake": {"number": 3, "height": 2.4, "diameter": 36.6},
    "disk": {"diameter": 36.6},
    "annulus": {"diameter": 36.6, "inner_diameter": 32.0},
    "cone": {"diameter": 36.6, "cut_diameter": 2.0, "height": 1.9},
    "deck": {"letters": ["0 m", "6.1 m", "12.2 m"], "numbers": ["0 m", "4 m", "8 m", "12 m"]},
    "panel": {"width": 4.0, "height": 2.5},
    "head": {"reach": 2.1, "area": 13.0},
    "sphere": {"area": 400.0},
}


class OnSurfaceGiven(WorksheetGiven):
    """For worksheets about a surface. Its variants are the kinds; a page asks for the sizes of its kind one by one."""

    variant_field = "surface_kind"

    surface_kind = serializers.ChoiceField(choices=KIND_CHOICES, label=_("Kind of surface"))
    surface = SizesField(label=_("Sizes"), help_text=_("In metres, or as text with a unit; chainages as spoken."))
    face = serializers.ChoiceField(
        choices=Zone.Face.choices, default=Zone.Face.OUTSIDE, label=_("Face"), help_text=_("Which face is coated.")
    )
    spoken = serializers.ChoiceField(
        label=_("Places are spoken"), choices=SPOKEN, default="metric", style={"later": True}
    )
    station_equations = StationEquationsField(
        label=_("Station equations"),
        required=False,
        default=list,
        system_in="spoken",
        help_text=_(
            'Where stationing jumps, one a line, as it is spoken there: "1+225.00 back = 1+250.00 ahead", or in plain metres '
            'or feet: "1225.00 back = 1250.00 ahead".'
        ),
    )

    def get_fields(self) -> dict[str, serializers.Field]:
        fields = super().get_fields()
        fields["station_equations"].style |= {"later": True}
        if self.variant:
            del fields["surface_kind"]
            fields["surface"] = FORMS[self.variant].takes(label=_("Sizes"))
            if self.variant not in STATIONED:
                del fields["station_equations"]
        return fields

    def validate_station_equations(self, equations: list[Any]) -> list[Any]:
        if len(equations) > MOST_EQUATIONS:
            raise serializers.ValidationError(
                say("There are {count} equations; at most {most} are taken.", count=len(equations), most=MOST_EQUATIONS)
            )
        return equations

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        given["surface"] = surface_given(given, _chainage(given))
        return given


def _chainage(given: Mapping[str, Any]) -> Chainage:
    check_equations(given["station_equations"], 0.0)
    try:
        return Chainage(
            system="metric" if given["spoken"] == "metric" else "imperial",
            foot="survey" if given["spoken"] == "survey" else "international",
            equations=tuple(StationEquation(back, ahead) for back, ahead in given["station_equations"]),
        )
    except ValueError as problem:
        raise serializers.ValidationError({"station_equations": [str(problem)]}) from problem


def example_on(kind: str, **more: Any) -> dict[str, Any]:
    """An example on the surface of this kind."""
    return {"surface_kind": kind, "surface": EXAMPLES[kind], "face": FORMS[kind].face, **more}
