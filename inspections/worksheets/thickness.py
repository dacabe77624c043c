"""The worksheet of judging thickness readings: accepted or not by a standard, with the arithmetic, and what they look like."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.languages import spoken
from accounts.lines import LinesField
from accounts.units import FilmField, NotRead, plain, read, show
from accounts.wording import noted, say
from accounts.worksheets import (
    Answer,
    Cell,
    Column,
    Figure,
    Source,
    Table,
    Tone,
    WorksheetGiven,
    cut,
    refuse,
    worksheet,
)
from inspections.film_acceptance import judge_iso19840, judge_ninety_ten
from inspections.thickness import Spot, Summary, judge_dft, summary
from inspections.vocabulary import PROFILES
from inspections.worksheets.thickness_plan import HYNDMAN, LISTED, PA2_LEVELS, SOURCES, STANDARDS, THICKNESS

MOST_READINGS = 3000


class SpotGiven(serializers.Serializer):
    """The gauge readings of one spot."""

    area = serializers.CharField(label=_("area"), max_length=40)
    readings = serializers.CharField(label=_("readings"), max_length=400)


class ThicknessGiven(WorksheetGiven):
    variant_field = "standard"

    standard = serializers.ChoiceField(choices=list(STANDARDS.items()), label=_("Standard"))
    spots = LinesField(
        SpotGiven,
        most=600,
        rows=8,
        required=False,
        default=list,
        label=_("Spots"),
        help_text=_(
            "One spot a line: name of its area; its readings, as 1; 250 262 255. A bare figure is in µm, in US units in mil."
        ),
    )
    readings = serializers.ListField(
        child=FilmField(min_value=0, max_value=30_000),
        label=_("Readings"),
        required=False,
        default=list,
        max_length=MOST_READINGS,
        style={"rows": 6},
        help_text=_("Pasted, divided by spaces or lines."),
    )
    minimum = FilmField(label=_("Specified minimum"), min_value=1, max_value=30_000, allow_null=True, default=None)
    maximum = FilmField(label=_("Specified maximum"), min_value=1, max_value=30_000, allow_null=True, default=None)
    nominal = FilmField(label=_("Nominal thickness"), min_value=1, max_value=30_000, allow_null=True, default=None)
    level = serializers.ChoiceField(
        label=_("Restriction level"), choices=[(str(level), str(level)) for level in range(1, 6)], default="3"
    )
    asked = serializers.IntegerField(
        label=_("How many are asked for"), min_value=1, max_value=10_000, default=1,
        help_text=_("Area measurements for SSPC-PA 2, readings otherwise. The plan says how many."),
    )  # fmt: skip
    profile = serializers.ChoiceField(
        label=_("Surface profile"), choices=spoken({name: words for name, words in PROFILES.items() if name}), allow_blank=True,
        default="", help_text=_("Its correction is subtracted; left empty where the gauge was zeroed on the profile."),
    )  # fmt: skip

    def get_fields(self) -> dict[str, serializers.Field]:
        fields = super().get_fields()
        if self.variant:
            kept = {
                "pa2": ("spots", "minimum", "maximum", "level", "asked"),
                "iso19840": ("readings", "nominal", "maximum", "profile", "asked"),
                "ninety-ten": ("readings", "nominal", "asked"),
            }[self.variant]
            fields = {name: fields[name] for name in (*kept, "units")}
        return fields

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        pa2 = given["standard"] == "pa2"
        readings, thickness = ("spots", "minimum") if pa2 else ("readings", "nominal")
        if not given[readings]:
            raise serializers.ValidationError({readings: say("Give at least one reading.")})
        if given[thickness] is None:
            raise serializers.ValidationError({thickness: say("Give the thickness that is specified.")})
        if pa2:
            given["spots"] = [self._spot(number, line) for number, line in enumerate(given["spots"], 1)]
        return given

    def _spot(self, number: int, line: dict[str, Any]) -> Spot:
        return Spot(number, tuple(self._um(text) for text in _texts(line["readings"])), line["area"])

    def _um(self, text: str) -> float:
        field = FilmField(min_value=0, max_value=30_000)
        page_unit = "mil" if self.context.get("page_units") == "us" else "um"
        try:
            return float(field.to_internal_value(text if _has_unit(text) else f"{text} {page_unit}").value)
        except serializers.ValidationError as problem:
            raise serializers.ValidationError({"spots": problem.detail}) from problem


def _texts(said: str) -> list[str]:
    """Readings divided by spaces; each may have its unit, as "10.2 mil"."""
    texts: list[str] = []
    for word in said.replace(";", " ").split():
        if texts and not any(character.isdigit() for character in word):
            texts[-1] += f" {word}"
        else:
            texts.append(word)
    return texts


def _has_unit(text: str) -> bool:
    try:
        return read(text, FilmField.kind)[1] is not None
    except NotRead:
        return True


@worksheet(
    "thickness",
    takes=ThicknessGiven,
    title=_("Thickness: are these readings accepted"),
    about=_("Readings judged by a standard with the arithmetic shown, and what they look like."),
    part=THICKNESS,
    example={},
    variants=STANDARDS,
    examples={
        "pa2": {
            "standard": "pa2",
            "spots": "1; 262 270 255\n1; 301 296 310\n1; 248 240 244\n1; 288 290 281\n1; 275 262 270",
            "minimum": 250.0,
            "maximum": 400.0,
        },
        "iso19840": {
            "standard": "iso19840",
            "readings": [f"{um} µm" for um in (312, 298, 305, 330, 287, 318, 301, 295, 340, 322)],
            "nominal": 280.0,
            "maximum": 560.0,
            "profile": "medium",
            "asked": 10,
        },
        "ninety-ten": {
            "standard": "ninety-ten",
            "readings": [f"{um} µm" for um in (332, 325, 341, 318, 350, 336, 329, 345, 338, 327)],
            "nominal": 320.0,
            "asked": 9,
        },
    },
)
def thickness(given: dict[str, Any], units: str) -> Answer:
    standard, asked = given["standard"], given["asked"]
    maximum = plain(given["maximum"])

    def film(um: float) -> str:
        return show(um, "film", units, 1)

    try:
        if standard == "pa2":
            found = judge_dft(given["spots"], plain(given["minimum"]), maximum, int(given["level"]), asked)  # type: ignore[arg-type]
            arithmetic = tuple(
                say("area {area}: {line}", area=area.area, line=line.said(film))
                for area in found.areas
                for line in area.arithmetic
            )
            verdict, missing = found.verdict, found.missing
            readings = [um for spot in given["spots"] for um in spot.readings_um]
        else:
            readings = [plain(reading) for reading in given["readings"]]
            nominal = plain(given["nominal"])
            judged = (
                judge_iso19840(readings, nominal, maximum_um=maximum, profile=given["profile"] or None, asked=asked)
                if standard == "iso19840"
                else judge_ninety_ten(readings, nominal, asked=asked)
            )
            verdict, missing = judged.verdict, judged.missing
            arithmetic = tuple(line.said(film) for line in judged.arithmetic)
    except ValueError as problem:
        raise refuse(
            "maximum" if "maximum" in str(problem) else "spots" if standard == "pa2" else "readings", str(problem)
        ) from problem
    words = {
        "accepted": say("The film is accepted."),
        "not accepted": say("The film is not accepted."),
        "not judged": say("The film cannot be judged yet."),
    }
    tones: dict[str, Tone] = {"accepted": "done", "not accepted": "open", "not judged": "work"}
    source = PA2_LEVELS if standard == "pa2" else SOURCES[standard]
    line_table = Table(
        "arithmetic", say("The arithmetic"), (Column("line", say("line")),), tuple((Cell(line, line),) for line in arithmetic), source
    )  # fmt: skip
    return Answer(
        " ".join((words[verdict], *(say("Missing: {what}.", what=what.said(film)) for what in missing[:3]))),
        (
            Figure("verdict", say("verdict"), verdict, "", say(verdict), say("by the arithmetic below"), source),
            *_summary(summary(readings), units),
        ),
        (cut(line_table, LISTED),),
        notes=(say("Thickness says nothing about flaws: a film of good thickness may still be holed."),),
        tone=tones[verdict],
    )


def _summary(found: Summary, units: str) -> list[Figure]:
    mean = Source(noted("Mean of the readings as typed"), "", "plain arithmetic")
    told = (
        ("mean", say("mean"), found.mean_um, say("sum over count"), mean),
        ("least", say("least"), found.least_um, say("of all readings"), mean),
        ("p5", say("5th percentile"), found.p5_um, say("linear interpolation"), HYNDMAN),
        ("p50", say("median"), found.p50_um, say("linear interpolation"), HYNDMAN),
        ("p95", say("95th percentile"), found.p95_um, say("linear interpolation"), HYNDMAN),
        ("most", say("most"), found.most_um, say("of all readings"), mean),
    )
    return [
        Figure("count", say("readings"), found.readings, "", str(found.readings), say("as typed"), mean),
        *(Figure(key, name, um, "µm", show(um, "film", units, 1), how, source) for key, name, um, how, source in told),
    ]
