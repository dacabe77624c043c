"""The Thickness page of a zone: whether the film is accepted, what is missing and where to take it, and what it asks for."""

from __future__ import annotations

from typing import Any, NamedTuple, cast
from urllib.parse import urlencode
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from accounts.access import roles_on
from accounts.acting import any_may, find
from accounts.people import Person
from accounts.units import FILM, from_si, show
from accounts.wording import say, say_many
from inspections.actions.thin import flaws_by_spot
from inspections.coatings import Coating, FieldSheet, Spot
from inspections.flaws import Flaw
from mapping.symbols import FILM_MARKS
from mapping.wire import legend, svg_symbol, wire
from mapping.zones import Zone
from repairs.charts import svg
from repairs.film import FilmPicture, FilmSpot, film_picture
from repairs.film_chart import Bin, bins_of, histogram
from repairs.film_chart import Line as ChartLine
from repairs.film_map import class_of, film_map, marking_of
from repairs.film_words import film_sentence, in_units
from repairs.pages.film_voltage import voltage_shown
from repairs.pages.zones import current_coating

VERDICT_CLASS = {"accepted": "done", "not accepted": "open", "not judged": "work"}
SHOWN_SPOTS = 300


class NextRow(NamedTuple):
    """A place to measure next, and the address that opens the form with it filled in ("" without a sheet)."""

    number: int
    said: str
    x: float
    y: float
    press: str


class SpotRow(NamedTuple):
    """A spot of the list with what is drawn and said beside it."""

    spot: FilmSpot
    mean: str
    svg: str
    words: str
    correction: str
    doubts: list[str]
    question: str
    flaw: Flaw | None

    @property
    def attention(self) -> bool:
        """Whether somebody has to look at it: anything but a spot that counts and conforms."""
        return class_of(self.spot) != "within" or bool(self.question)


class BinRow(NamedTuple):
    said: str
    readings: int


def film_for(request: HttpRequest, zone: Zone) -> FilmPicture | None:
    """The film of the current coating at the stage asked for; None before a coating has begun."""
    coating = current_coating(zone)
    if coating is None:
        return None
    wanted = request.GET.get("stage", "")
    return film_picture(coating, wanted if wanted in {each.name for each in coating.terms.stages} else None)


@login_required
@require_safe
def thickness_page(request: HttpRequest, pk: UUID) -> HttpResponse:
    person = cast(Person, request.user)
    zone = find(person, Zone, pk)
    film = film_for(request, zone)
    roles = roles_on(person, zone)
    if film is None:
        bare = {"zone": zone, "asset": zone.asset, "may_begin": any_may(roles, "begin_coating")}
        return render(request, "repairs/zone_bare.html", {**bare, "here": request.get_full_path()})
    coating, units = film.coating, person.units
    sheet = my_sheet(person, coating)
    spots = _spots(film, units)
    may_record = any_may(roles, "record_spot") and coating.ended_at is None
    return render(
        request,
        "repairs/thickness.html",
        {
            "zone": zone,
            "asset": zone.asset,
            "coating": coating,
            "film": film,
            "judgement": film.judgement,
            "sentence": film_sentence(
                film.judgement, film.testable_m2, units, film.next.places[0].said if film.next.places else ""
            ),
            "verdict_class": VERDICT_CLASS[film.judgement.verdict] if film.judgement else "",
            "asked": [line.said(in_units(units)) for line in film.judgement.asked] if film.judgement else [],
            "notes": [line.said(in_units(units)) for line in film.judgement.notes] if film.judgement else [],
            "missing": [line.said(in_units(units)) for line in film.judgement.missing] if film.judgement else [],
            "areas": _areas(film, units),
            "next": _next(film, sheet, request.get_full_path()),
            "failed": _failed(film, units, sheet, request.get_full_path()),
            "legend": legend(film_map(film, units)),
            "figures": _figures(film, units),
            "bins": _bins(film, units),
            "chart": _chart(film, units),
            "spots": [row for row in spots if row.attention][:SHOWN_SPOTS],
            "others": [row for row in spots if not row.attention][:SHOWN_SPOTS],
            "shown_most": SHOWN_SPOTS,
            "struck": Spot.objects.filter(coating=coating, stage=film.stage.name)
            .exclude(struck_at=None)
            .select_related("struck_by")
            .order_by("-struck_at")[:SHOWN_SPOTS],
            "voltage": voltage_shown(film, units, sheet),
            "sheet": sheet,
            "may_record": may_record,
            "may_take": any_may(roles, "take_sheet") and coating.ended_at is None and sheet is None,
            "may_flaw": any_may(roles, "report_thin_spot") and coating.ended_at is None,
            "may_decide": bool(film.judgement and film.judgement.doubtful) and any_may(roles, "decide_spots"),
            "may_import": any_may(roles, "import_gauge_file") and coating.ended_at is None,
            "may_strike": any_may(roles, "strike_spot"),
            "here": request.get_full_path(),
            "record_url": reverse("record", args=[zone.asset_id]),
        },
    )


@login_required
@require_safe
def thickness_drawing(request: HttpRequest, pk: UUID) -> JsonResponse:
    """The thickness map in columns, for the painter in the browser."""
    person = cast(Person, request.user)
    film = film_for(request, find(person, Zone, pk))
    if film is None:
        return JsonResponse({"problem": say("No coating has begun on this zone.")}, status=404)
    return JsonResponse(wire(film_map(film, person.units)))


def my_sheet(person: Person, coating: Coating) -> FieldSheet | None:
    """The person's own field sheet of the coating that is still out."""
    return FieldSheet.objects.filter(
        coating=coating, person=person, handed_in_at=None, given_up_why=None
    ).first()  # fmt: skip


def _areas(film: FilmPicture, units: str) -> list[dict[str, Any]]:
    if film.judgement is None:
        return []
    said = in_units(units)
    return [
        {
            "name": area.area or say("the whole"),
            "verdict": area.verdict,
            "mean": "–" if area.mean_um is None else said(area.mean_um),
            "lines": [line.said(said) for line in area.arithmetic],
        }
        for area in film.judgement.areas
    ]


def _press(sheet: FieldSheet | None, here: str, film: FilmPicture, place: str, **more: str) -> str:
    """The form for a spot at a place, on the person's own sheet."""
    if sheet is None:
        return ""
    query = urlencode({"place": place, "stage": film.stage.name, **more, "to": here})
    return f"{reverse('do', args=['record_spot', sheet.pk])}?{query}"


def _next(film: FilmPicture, sheet: FieldSheet | None, here: str) -> list[NextRow]:
    return [
        NextRow(number, place.said, place.x, place.y, _press(sheet, here, film, place.said))
        for number, place in enumerate(film.next.places, 1)
    ]


def _failed(film: FilmPicture, units: str, sheet: FieldSheet | None, here: str) -> list[dict[str, Any]]:
    """Each failed spot with its eight directions."""
    said = in_units(units)
    rows = []
    for failed in film.failed:
        ways = [
            {
                "direction": say(reach.direction),
                "spots": ", ".join(
                    say("{mean} conforms", mean=said(mean)) if conforms else say("{mean} does not", mean=said(mean))
                    for _, mean, conforms in reach.spots
                ),
                "ends": "" if reach.ends_m is None else show(reach.ends_m, "metres", units),
                "next": reach.next_place,
                "press": _press(sheet, here, film, reach.next_place.said, purpose="bounding")
                if reach.next_place
                else "",
            }
            for reach in failed.reaches
        ]
        known = sum(reach.ends_m is not None for reach in failed.reaches)
        rows.append(
            {"failed": failed, "mean": said(failed.mean_um), "ways": ways, "known": known, "source": failed.source}
        )
    return rows


def _figures(film: FilmPicture, units: str) -> list[tuple[str, str]]:
    """Statistics of the readings that count, in reading order."""
    found = film.summary
    if found is None:
        return []
    said = in_units(units)
    return [
        (say("readings"), str(found.readings)),
        (say("mean"), said(found.mean_um)),
        (say("standard deviation"), "–" if film.deviation_um is None else said(film.deviation_um)),
        (say("least"), said(found.least_um)),
        (say("5th percentile"), said(found.p5_um)),
        (say("50th percentile"), said(found.p50_um)),
        (say("95th percentile"), said(found.p95_um)),
        (say("most"), said(found.most_um)),
    ]


def _values(film: FilmPicture, units: str) -> list[float]:
    unit = FILM.unit(FILM.us) if units == "us" else FILM.si
    return [float(from_si(um, unit)) for spot in film.spots if spot.counts for um in spot.corrected_um]


def _bins(film: FilmPicture, units: str) -> list[BinRow]:
    values = _values(film, units)
    name = FILM.us if units == "us" else FILM.si.name
    return [
        BinRow(f"{each.start:g} – {each.end:g} {name}", each.readings) for each in (bins_of(values) if values else ())
    ]


def _chart(film: FilmPicture, units: str) -> str:
    """The histogram with the limits of a single spot and the percentiles."""
    values = _values(film, units)
    if not values or film.summary is None:
        return ""
    unit = FILM.unit(FILM.us) if units == "us" else FILM.si

    def at(um: float) -> float:
        return float(from_si(um, unit))

    bins: tuple[Bin, ...] = bins_of(values)
    limits = [ChartLine(at(um), show(um, "film", units)) for um in (film.low_um, film.high_um) if um is not None]
    found = film.summary
    percentiles = [
        ChartLine(at(um), words)
        for um, words in ((found.p5_um, say("5 %")), (found.p50_um, say("50 %")), (found.p95_um, say("95 %")))
    ]
    return svg(histogram(bins, limits, percentiles, say("film thickness, {unit}", unit=unit.name)))


def _spots(film: FilmPicture, units: str) -> list[SpotRow]:
    """The spots of the list: those that need attention first, then as they were taken."""
    marking, said = marking_of(film, units), in_units(units)
    flaws = flaws_by_spot(film.coating.pk)
    rows = []
    for spot in film.spots:
        style = class_of(spot)
        words = marking.words.get(style) or say("does not count")
        correction = spot.correction_said or (said(spot.correction_um) if spot.correction_um else "")
        doubts = [line.said(said) for line in spot.why_not]
        if spot.kind == "incomplete":
            doubts.insert(0, _incomplete(spot))
        rows.append(
            SpotRow(
                spot,
                said(spot.mean_um),
                svg_symbol(style, FILM_MARKS),
                words,
                correction,
                doubts,
                spot.question.said(said) if spot.question else "",
                flaws.get(spot.id),
            )
        )
    order = FILM_MARKS.statuses
    return sorted(rows, key=lambda row: (order.index(class_of(row.spot)), row.spot.at))


def _incomplete(spot: FilmSpot) -> str:
    return say_many(
        "{count} reading; a spot has three at least",
        "{count} readings; a spot has three at least",
        len(spot.readings),
    )
