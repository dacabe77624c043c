"""What an asset's document lists besides its zones: landmarks, instruments, people, the record, and how to set out places."""

from __future__ import annotations

from collections.abc import Mapping

from django.db.models import Count, Max, Min, Q
from reportlab.platypus import Flowable

from accounts.acting import REGISTRY
from accounts.assets import Asset
from accounts.people import Appointment
from accounts.record import Entry
from accounts.wording import noted, say, say_many
from inspections.coatings import Coating
from inspections.equipment_used import instruments_used
from inspections.instruments import Certificate, Electrode
from inspections.runs import Run
from mapping.landmarks import Landmark
from mapping.zones import Zone
from repairs.dossier.layout import LEAD, NOTE, Paper, item, says, section, table
from repairs.dossier.overview import Overview
from repairs.dossier.reader import NOTHING, Reader

CHECKPOINTS = 30
"""Entries whose sha256 is printed, about: a later copy can be compared at each of them."""
SETTING_OUT: Mapping[str, str] = {
    "pipe": noted(
        "Pipes: measure the chainage along the pipe from the nearest landmark. A clock position is the way around from 12 "
        "o'clock, clockwise looking with increasing chainage: lay a tape around the pipe and measure the arc, so much for an "
        "hour. Looking the other way, clock positions are mirrored."
    ),
    "strake": noted(
        "Shell courses: measure the arc along the shell at one height from the azimuth datum, clockwise seen from above, so "
        "much for a degree; measure the height from the lower edge of the course. Facing the shell, azimuth runs to the right "
        "inside and to the left outside."
    ),
    "disk": noted(
        "Floors and flat roofs: stretch the tape from the centre in the direction of the azimuth, clockwise seen from above, "
        "and measure the radius. From below, azimuths are mirrored."
    ),
    "cone": noted(
        "Cones: measure the slant distance over the surface from the apex, which is a point in the air where the cone is cut "
        "off: there measure from the edge and add what is missing."
    ),
    "deck": noted(
        "Decks: from the lettered line measure towards the next letter, then from the numbered line towards the next number. "
        "Offsets are within the bay."
    ),
    "panel": noted("Panels: measure x to the right from the left edge, y up from the lower edge."),
    "bend": noted(
        "Bends: measure the chainage along the centre line, the clock position around as on the pipe. Distances are local."
    ),
    "head": noted(
        "Dished heads: measure over the surface from the middle in the direction of the azimuth. Distances are local."
    ),
    "sphere": noted(
        "Spheres: measure the height over the surface from the lowest point, in the direction of the azimuth. Distances are local."
    ),
}
_LIKE = {"annulus": "disk"}


def landmarks_of(asset: Asset, paper: Paper) -> list[Flowable]:
    """What painters measure from."""
    story: list[Flowable] = [section(say("Landmarks"))]
    cells = [
        [row.get_kind_display(), row.name, f"{row.said} ({row.zone.name})" if row.zone else row.said]
        for row in Landmark.objects.filter(asset=asset, struck_at=None)
        .select_related("zone")
        .order_by("x", "name", "pk")
    ]
    if not cells:
        return [*story, says(say("No landmark is recorded; places are measured from the datum alone."))]
    found = len(cells)
    heads = [say("kind"), say("name"), say("place as said")] * 2
    if len(cells) % 2:
        cells.append([""] * 3)
    rows = [[*left, *right] for left, right in zip(cells[::2], cells[1::2], strict=True)]
    return [
        *story,
        says(say_many("{count} landmark, two to a line.", "{count} landmarks, two to a line.", found), LEAD),
        *table(heads, rows, [52, 62, 141] * 2, paper.measure),
    ]


def setting_out(overview: Overview, reader: Reader, paper: Paper) -> list[Flowable]:
    """How a place that is said is found again with a tape measure, and the figures for each zone."""
    kinds = list(dict.fromkeys(_LIKE.get(zone.surface_kind, zone.surface_kind) for zone in overview.zones))
    story: list[Flowable] = [
        section(say("Setting out")),
        says(
            say(
                "How a place is found again with a tape measure. Measure from two landmarks where there are two, and let a "
                "second person read the tape before anything is marked or cut (common practice, no source)."
            ),
            LEAD,
        ),
        *[item(say(SETTING_OUT[kind])) for kind in kinds],
    ]
    rows = [[zone.name, zone.surface.limits_text(), *_way_around(zone, reader)] for zone in overview.zones]
    seen: dict[str, list[str]] = {}
    for zone in overview.zones:
        seen.setdefault(zone.surface.seen_from, []).append(zone.name)
    drawn = [says(say("Drawn: {how}.", how=how)) for how in seen]
    if len(seen) > 1:
        drawn = [
            item(say("Drawn, {zones}: {how}.", how=f"{how[:1].lower()}{how[1:]}", zones=", ".join(names)))
            for how, names in seen.items()
        ]
    heads = [say("zone"), say("limits"), say("way around"), say("for an hour"), say("for a degree")]
    notes = dict.fromkeys(zone.surface.distance_note for zone in overview.zones if zone.surface.distance_note)
    return [
        *story,
        *drawn,
        *table(heads, rows, [90, 231, 70, 60, 60], paper.measure),
        *[says(note, NOTE) for note in notes],
    ]


def _way_around(zone: Zone, reader: Reader) -> list[str]:
    """The way around, and the arc of an hour of the clock and of a degree; dashes where there is none."""
    period = zone.surface.period
    if period is None:
        return [NOTHING] * 3
    hour = reader.length(period / 12, 3) if zone.surface.wrap_axis == "y" else NOTHING
    return [reader.length(period), hour, reader.length(period / 360, 4)]


def instruments_of(asset: Asset, reader: Reader, paper: Paper) -> list[Flowable]:
    """Instruments and electrodes that were used, each with its certificates."""
    story: list[Flowable] = [section(say("Instruments and certificates"))]
    coatings = Coating.objects.filter(zone__asset=asset)
    rows = [
        [
            str(row),
            row.get_kind_display(),
            row.organisation.name,
            "; ".join(
                _certificate(paper_, reader)
                for paper_ in sorted(row.certificates.all(), key=lambda each: (each.issued, each.pk))
                if paper_.struck_at is None
            )
            or say("▼ none registered"),
        ]
        for row in instruments_used(coatings).select_related("organisation").prefetch_related("certificates")
    ]
    if not rows:
        return [*story, says(say("No instrument has been used yet."))]
    heads = [say("instrument"), say("kind"), say("belongs to"), say("certificates")]
    story += table(heads, rows, [110, 66, 105, 230], paper.measure)
    electrodes = [
        [
            row.name,
            row.kind,
            reader.length(row.width),
            str(row.used),
            f"{reader.moment(row.first)} – {reader.moment(row.last)}",
        ]
        for row in Electrode.objects.filter(runs__sheet__coating__in=coatings)
        .annotate(
            used=Count("runs"),
            first=Min("runs__opened_at"),
            last=Max("runs__opened_at"),
        )
        .order_by("name", "pk")
    ]
    if electrodes:
        heads = [say("electrode"), say("kind"), say("width"), say("runs"), say("first and last")]
        story += table(heads, electrodes, [120, 110, 60, 40, 181], paper.measure)
    uncovered = _uncovered(asset)
    if uncovered:
        story.append(says(say("▼ Opened without a certificate in force: {runs}.", runs=", ".join(uncovered))))
    return story


def _certificate(row: Certificate, reader: Reader) -> str:
    said = say("{number}, {issued} to {due}", number=row.number, issued=reader.day(row.issued), due=reader.day(row.due))
    found = say("; as found {value}", value=row.as_found) if row.as_found else ""
    left = say("; as left {value}", value=row.as_left) if row.as_left else ""
    return f"{said}{found}{left}"


def _uncovered(asset: Asset) -> list[str]:
    runs = Run.objects.filter(sheet__coating__zone__asset=asset, struck_at=None, instrument__isnull=False)
    runs = runs.select_related("sheet__coating__zone__asset", "instrument").prefetch_related("instrument__certificates")
    return [
        say("{zone}, run {label}", zone=run.sheet.coating.zone.name, label=run.label)
        for run in runs.order_by("opened_at", "pk")
        if run.certificate is None
    ]


def people_of(asset: Asset, reader: Reader, paper: Paper) -> list[Flowable]:
    """Who holds which role, for whom and since when."""
    here = Q(asset=asset) | Q(asset=None, organisation=asset.organisation_id)
    rows = [
        [
            row.person.name,
            row.get_role_display(),
            row.organisation.name,
            reader.moment(row.since),
            reader.moment(row.until) if row.until else say("until further notice"),
        ]
        for row in Appointment.objects.filter(here)
        .select_related("person", "organisation")
        .order_by("role", "person__name", "since", "pk")
    ]
    heads = [say("name"), say("role"), say("acts for"), say("since"), say("until")]
    return [
        section(say("People and their roles")),
        says(
            say(
                "Names are printed because a proof needs them. Names and email addresses are private in the record: its "
                "entries, which are hashed and passed on, hold neither."
            ),
            LEAD,
        ),
        *table(heads, rows, [120, 96, 125, 85, 85], paper.measure),
    ]


def record_of(overview: Overview, reader: Reader, paper: Paper) -> list[Flowable]:
    """Where the record stands, some of its entries on the way there, and how any copy is checked against them."""
    head = overview.head
    step = max(1, -(-head.seq // CHECKPOINTS))
    wanted = sorted({*range(step, head.seq + 1, step), head.seq})
    rows = [
        [str(entry.seq), REGISTRY[entry.what].title if entry.what in REGISTRY else entry.what, reader.moment(entry.server_at),
         entry.digest]
        for entry in Entry.objects.filter(record=overview.asset.pk, seq__in=wanted).order_by("seq")
    ]  # fmt: skip
    story: list[Flowable] = [
        section(say("The record, and how to check it")),
        says(
            say(
                "Everything here rests on the record of {asset}, a chain of {count} entries to which is only added. Each entry "
                "carries the sha256 of the one before: the sha256 of an entry is that of the text barespot.1, a line break, the "
                "sha256 of the entry before (nothing for the first), a line break, and the body of the entry.",
                asset=overview.asset.name,
                count=head.seq,
            )
        ),
        item(say("Compare this print with another: where both name an entry, its sha256 must be the same.")),
        item(
            say(
                "Compare this print with the record: open the page Record of the asset, or take the table record along, and look "
                "for the entries below."
            )
        ),
        item(
            say(
                "Check the chain itself: whoever runs the server proves all entries, rows and files with manage.py "
                "verify_record; whoever holds the table record can compute every sha256 from it."
            )
        ),
    ]
    if not rows:
        return [*story, says(say("The record has no entry yet."))]
    return [
        *story,
        *table([say("entry"), say("what"), say("recorded"), "sha256"], rows, [34, 110, 82, 285], paper.measure),
    ]
