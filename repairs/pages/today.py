"""Today: only what is mine to do now, by role."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import NamedTuple, cast

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts.access import assets_of, roles_on
from accounts.assets import Asset
from accounts.people import Person, Role
from accounts.units import show
from accounts.wording import say, say_many
from inspections.asking import Asked
from inspections.coatings import FieldSheet
from inspections.noted_runs import with_notes
from inspections.pages.air_block import air_of_run
from inspections.runs import Run
from repairs.pages.papers import briefing_wanting, cards_wanting, run_words
from repairs.picture import ZonePicture, asset_pictures
from repairs.reader_words import said_in
from repairs.setting_up import setup_of
from repairs.state import PatchState


class Item(NamedTuple):
    """One thing to do: a sentence, where a press leads, what the press says; `due` ticks down in `due_words`."""

    where: str
    says: str
    url: str
    press: str
    since: datetime | None = None
    due: datetime | None = None
    due_words: str = ""


class Block(NamedTuple):
    """One heading of the page; times are shown in the asset's zone. for_others: nothing of it is the reader's to do."""

    title: str
    items: list[Item]
    empty: str
    asset: Asset | None = None
    for_others: bool = False


@login_required
@require_safe
def today(request: HttpRequest) -> HttpResponse:
    person = cast(Person, request.user)
    blocks: list[Block] = []
    assets = list(assets_of(person).order_by("name"))
    begun: list[Asset | None] = [*assets] or [None]
    settings = [setup for each in begun if (setup := setup_of(person, each))]
    held: set[Role] = set()
    for asset in assets:
        roles = set(roles_on(person, asset))
        held |= roles
        pictures = asset_pictures(asset, spoken=said_in(person.units))
        mine: list[Block] = []
        if Role.CREW in roles:
            mine += _crew(person, asset, pictures)
        if Role.LEAD in roles:
            mine += [
                _lead(pictures),
                Block(say("Questions still open"), _questions(pictures), say("Every question is answered.")),
            ]
        if Role.CONTRACTOR in roles:
            mine += _contractor(person, pictures)
        if Role.OWNER in roles:
            mine += _owner(person, asset, pictures)
        if not roles - {Role.OBSERVER, Role.ADMIN}:
            here = Item(asset.name, say("You read here."), reverse("asset", args=[asset.pk]), say("Open"))
            mine.append(Block(say("To read"), [here], ""))
        blocks += [block._replace(asset=asset) for block in mine]
    if cards := [Item(*each) for each in cards_wanting(person, held)]:
        blocks.append(Block(say("Qualifications"), cards, ""))
    todo = sum(len(block.items) for block in blocks if not block.for_others)
    following = [step for setup in settings for step in setup.steps if step.now and step.url]
    return render(
        request,
        "repairs/today.html",
        {"blocks": blocks, "assets": assets, "todo": todo, "settings": settings, "following": following},
    )


def _crew(person: Person, asset: Asset, pictures: list[ZonePicture]) -> list[Block]:
    mine = with_notes(
        Run.objects.filter(
            sheet__person=person, closed_at=None, struck_at=None, sheet__coating__zone__asset=asset
        ).order_by("opened_at"),
        timezone.now(),
    )
    open_runs = []
    for run in mine:
        last = run.verifications.filter(struck_at=None).order_by("-sheet_seq").first()
        due = last.at + timedelta(minutes=run.check_interval_min) if last and run.check_interval_min else None
        open_runs.append(
            Item(
                say("Run {run}, {zone}", run=run.label, zone=run.sheet.coating.zone.name),
                _run_says(run, person, checked=last is not None),
                reverse("run", args=[run.pk]),
                say("Go on"),
                run.opened_at,
                due,
                say("Next check in {}."),
            )
        )
    out = list(
        FieldSheet.objects.filter(
            person=person, handed_in_at=None, given_up_why=None, coating__zone__asset=asset
        ).select_related("coating__zone", "coating__specification")
    )
    open_runs += [Item(*each) for each in briefing_wanting(asset, out)]
    sheets = [
        Item(
            f"{sheet}, {sheet.coating.zone.name}",
            say("Out with you."),
            reverse("sheet", args=[sheet.pk]),
            say("Open"),
            sheet.taken_at,
        )
        for sheet in out
    ]
    retests = [
        Item(
            f"{patch.name}, {picture.zone.name}",
            f"{patch.said}: {patch.label}.",
            reverse("patch", args=[patch.id]),
            say("Retest"),
            patch.since,
        )
        for picture in pictures
        for patch in picture.patches
        if patch.state in (PatchState.READY, PatchState.REOPENED)
    ]
    gaps = [
        Item(
            picture.zone.name,
            say_many(
                "{area} to walk ({count} place).",
                "{area} to walk ({count} places).",
                len([p for p in picture.ground.parts if p.kind in ("gap", "lost")]),
                area=show(picture.ground.gap_m2 + picture.ground.lost_m2, "area", person.units),
            ),
            reverse("zone", args=[picture.zone.pk]),
            say("Open"),
        )
        for picture in pictures
        if picture.ground.gap_m2 + picture.ground.lost_m2 > 1e-4 and not picture.release
    ]
    return [
        Block(say("Open runs"), open_runs, say("No run of yours is open.")),
        Block(say("Field sheets with you"), sheets, say("No sheet is out with you. Take one on a zone's page.")),
        Block(say("Ready for retest"), retests, say("Nothing is ready for retest.")),
        Block(say("Ground still to walk"), gaps, say("No ground is left to walk.")),
        Block(say("Questions to you"), _questions(pictures, of=person), say("Nothing you recorded is in question.")),
    ]


def _run_says(run: Run, person: Person, *, checked: bool) -> str:
    """What an open run waits for, and a warning where its margin above the dew point is closing."""
    waits = run_words(run) or (
        say("No check yet: make one before sweeping.") if run.is_checked and not checked else say("Open.")
    )
    return " ".join(filter(None, (waits, air_of_run(run, person.units).warning)))


def _questions(pictures: list[ZonePicture], of: Person | None = None) -> list[Item]:
    """Open questions run by run: of everybody, or of one person's runs. What hangs on no run is one item a zone."""
    items = []
    for picture in pictures:
        waiting: dict[Run | None, list[Asked]] = {}
        for each in picture.asked:
            if each.is_open and (of is None or (each.run is not None and each.run.recorder_id == of.pk)):
                waiting.setdefault(each.run, []).append(each)
        for run, asked in waiting.items():
            titles = "; ".join(dict.fromkeys(say(each.question.kind.title) for each in asked))
            where = say("{run}, {zone}", run=run, zone=picture.zone.name) if run else picture.zone.name
            url = reverse("questions", args=[picture.coating.pk])
            says = say_many("{count} question: {titles}.", "{count} questions: {titles}.", len(asked), titles=titles)
            since = min(each.question.since for each in asked)
            items.append(Item(where, says, url, say("Answer"), since))
    return items


def _lead(pictures: list[ZonePicture]) -> Block:
    items = []
    for picture in pictures:
        loose = [flaw for flaw in picture.flaws if flaw.is_open and flaw.patch_id is None]
        if loose:
            says = say_many("{count} open flaw is in no patch.", "{count} open flaws are in no patch.", len(loose))
            items.append(
                Item(picture.zone.name, says, reverse("work_pack", args=[picture.zone.pk]), say("Issue patches"))
            )
    return Block(say("For the lead inspector"), items, say("Every open flaw is in a patch."))


def _contractor(person: Person, pictures: list[ZonePicture]) -> list[Block]:
    names = {"workable now": "now", "closes at": "now", "opens at": "later", "missed": "missed"}
    found: dict[str, list[Item]] = {"now": [], "later": [], "missed": []}
    now = timezone.now()
    for picture in pictures:
        for patch in picture.patches:
            if patch.contractor_id != person.organisation_id or patch.next is None or patch.whose != "contractor":
                continue
            due = patch.next.closes_at if patch.next.closes_at and patch.next.closes_at > now else patch.next.opens_at
            found[names[patch.next.status]].append(
                Item(
                    f"{patch.name}, {picture.zone.name}", patch.next.sentence, reverse("patch", args=[patch.id]), say("Open"),
                    None, due if due and due > now else None, say("Closes in {}.") if due == patch.next.closes_at else say("Opens in {}."),
                )
            )  # fmt: skip
    return [
        Block(say("Workable now"), found["now"], say("Nothing can be worked on right now.")),
        Block(say("Opens later"), found["later"], say("Nothing waits for a window.")),
        Block(say("Window missed"), found["missed"], say("No window has been missed.")),
    ]


def _drafts(asset: Asset) -> list[Item]:
    return [
        Item(
            draft.name,
            say(
                "This draft of a specification, last changed by {name}, waits until you issue it.",
                name=draft.changed_by.name,
            ),
            reverse("draft", args=[draft.pk]),
            say("Look"),
            draft.changed_at,
        )
        for draft in asset.drafts.filter(issued=None, struck_at=None).select_related("changed_by").order_by("begun_at")
    ]


def _owner(person: Person, asset: Asset, pictures: list[ZonePicture]) -> list[Block]:
    decisions, release = _drafts(asset), []
    for picture in pictures:
        zone_url = reverse("zone", args=[picture.zone.pk])
        decisions += [
            Item(
                picture.zone.name,
                say(
                    "{drawn_by} asks to leave out {said}: {reason}.",
                    drawn_by=each.drawn_by,
                    said=each.said,
                    reason=each.reason,
                ),
                zone_url,
                say("Decide"),
                each.drawn_at,
            )
            for each in picture.undecided
        ]
        if picture.ground.held_m2 > 1e-4:
            says = say("{area} is held until you decide.", area=show(picture.ground.held_m2, "area", person.units))
            decisions.append(Item(picture.zone.name, says, f"{zone_url}#doubts", say("Decide")))
        if picture.release and picture.release.undermined:
            decisions.append(
                Item(picture.zone.name, picture.sentence, reverse("gates", args=[picture.zone.pk]), say("Look"))
            )
        elif picture.may_release and not picture.release:
            release.append(
                Item(
                    picture.zone.name,
                    say("Every gate is green."),
                    reverse("gates", args=[picture.zone.pk]),
                    say("Release"),
                )
            )
    others = [
        Item(
            picture.zone.name,
            picture.turn.why,
            reverse("gates", args=[picture.zone.pk]),
            say("Look"),
            picture.turn.since,
        )
        for picture in pictures
        if picture.turn and picture.turn.whose != "owner" and not picture.release
    ]
    return [
        Block(say("Waits for your decision"), decisions, say("Nothing waits for you.")),
        Block(say("Ready to release"), release, say("No zone is ready.")),
        Block(say("Waits for others"), others, say("Nothing waits for anybody."), for_others=True),
    ]
