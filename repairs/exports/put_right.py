"""Tables of what was found and put right: flaws, patches with their work and retests, concessions, releases."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from accounts.wording import noted
from inspections.flaws import Classification, Flaw
from repairs.exports.scope import Column, Scope, Table
from repairs.exports.tested import AT, BY, as_json, rows_of, run_label, under
from repairs.exports.where import ID, SAID, STRUCK, X, Y
from repairs.release import Concession, Release
from repairs.state import with_state, with_status
from repairs.work import Cycle, Patch, PatchFlaw, Retest, Step


def tag_of(letter: str | None, number: int | None) -> str | None:
    """A flaw's tag as it is painted."""
    return f"{letter}{number:02d}" if letter is not None else None


def _flaws(scope: Scope) -> QuerySet[Any]:
    rows = scope.of_zone(Flaw.objects.all(), "sheet__coating__zone")
    return with_status(rows).order_by("found_at", "pk")


def _patches(scope: Scope) -> QuerySet[Any]:
    rows = scope.of_zone(Patch.objects.all(), "coating__zone")
    return with_state(rows).order_by("coating__zone__order", "coating__zone__name", "coating__number", "number")


def _tag(path: str) -> Column:
    return Column("tag", noted("Tag of the flaw."), (f"{path}sheet__letter", f"{path}number"), tag_of)


PATCH = Column("patch", noted("Number of the patch on its coating."), "patch__number")
OF_CYCLE = (
    *under("cycle__patch__coating"),
    Column("patch", noted("Number of the patch on its coating."), "cycle__patch__number"),
    Column("cycle", noted("Number of the round of repair and retest."), "cycle__number"),
)
CYCLE_ZONE = "cycle__patch__coating__zone"
FLAWS = Table(
    "flaws",
    noted("Every flaw with its place, size, kind and how far its repair is."),
    (
        *under("sheet__coating"),
        _tag("")._replace(what=noted("Letters of the field sheet and number, as painted.")),
        run_label("run__"),
        Column("found by", noted("electrical, visual or gauge."), "found_by"),
        Column("thickness spot", noted("Where the spot stood that was too thin and became this flaw."), "spot__said"),
        SAID,
        X,
        Y,
        Column("give or take (m)", noted("How sure the place is."), "give_or_take"),
        Column("along x (m)", noted("Size along the first axis; 0 while it was not measured."), "size_x"),
        Column("along y (m)", noted("Size along the second axis; 0 while it was not measured."), "size_y"),
        Column("depth (µm)", noted("Depth, where it was measured."), "depth"),
        Column("kind", noted("The latest word on its kind; an indication until somebody has looked."), "kind_now"),
        Column(
            "status",
            noted("open, begun, ready (for retest), accepted, conceded, false (indication) or struck."),
            "status",
        ),
        Column("patch", noted("Number of the patch that repairs it."), "patch_number"),
        Column(
            "same as",
            noted("Tag of the flaw it repeats, by a person's word."),
            ("same_as__sheet__letter", "same_as__number"),
            tag_of,
        ),
        Column("found at", noted("When it was found."), "found_at"),
        BY,
        Column("note", noted("What was noted."), "note"),
        *STRUCK,
        ID,
    ),
    _flaws,
)
CLASSIFICATIONS = Table(
    "classifications",
    noted("Every word on the kind of a flaw; the latest counts."),
    (*under("flaw__sheet__coating"), _tag("flaw__"), Column("kind", noted("The kind."), "kind"), BY, AT, *STRUCK, ID),
    rows_of(Classification, "flaw__sheet__coating__zone", "at"),
)
PATCHES = Table(
    "patches",
    noted("Ground to be repaired as one, with its state."),
    (
        *under("coating"),
        Column("patch", noted("Its number on the coating."), "number"),
        SAID,
        Column("area (m2)", noted("Its area."), "area"),
        Column("contractor", noted("Who repairs it."), "contractor__name"),
        Column("issued by", noted("Who issued it."), "issued_by__name"),
        Column("issued at", noted("When it was issued."), "issued_at"),
        Column("state", noted("How far its work and retest are."), "state"),
        *STRUCK,
        ID,
    ),
    _patches,
)
PATCH_FLAWS = Table(
    "patch-flaws",
    noted("Which flaws each patch repairs."),
    (*under("patch__coating"), PATCH, _tag("flaw__"), *STRUCK, ID),
    rows_of(PatchFlaw, "patch__coating__zone", "patch__coating", "patch__number"),
)
CYCLES = Table(
    "cycles",
    noted("Rounds of repair and retest. Whoever applied a patch never passes it."),
    (
        *under("patch__coating"),
        PATCH,
        Column("cycle", noted("Number of the round."), "number"),
        Column("worked by", noted("The organisation that works on it."), "worker_org__name"),
        Column("opened at", noted("When it was opened."), "opened_at"),
        Column("outcome", noted("passed, failed or abandoned; empty while it is open."), "outcome"),
        Column("settled at", noted("When it was settled."), "settled_at"),
        Column("retested by", noted("Who retested it."), "retester__name"),
        Column("retester of", noted("For which organisation."), "retester_org__name"),
        Column("witness", noted("Who witnessed the retest."), "witness__name"),
        Column("note", noted("What was noted."), "note"),
        ID,
    ),
    rows_of(Cycle, "patch__coating__zone", "patch__coating", "patch__number", "number"),
)
STEPS = Table(
    "steps",
    noted("Every recorded step of the repairs."),
    (
        *OF_CYCLE,
        Column("step", noted("prepared, coated, cured or handed over."), "kind"),
        Column("coat", noted("Number of the repair coat."), "coat"),
        AT,
        BY,
        Column("organisation", noted("For whom."), "organisation__name"),
        Column("product", noted("The material."), "product"),
        Column("batch", noted("Its batch."), "batch"),
        Column("mixed at", noted("When it was mixed."), "mixed_at"),
        Column("wet film (µm)", noted("Wet film thickness."), "wet"),
        Column("dry film (µm)", noted("Dry film thickness."), "dry"),
        Column("note", noted("What was noted."), "note"),
        *STRUCK,
        ID,
    ),
    rows_of(Step, CYCLE_ZONE, "cycle__patch__coating", "cycle__patch__number", "at"),
)
RETESTS = Table(
    "retests",
    noted("The swath that settled each cycle; the patch stays accepted while it stands."),
    (
        *OF_CYCLE,
        run_label("swath__run__"),
        Column("place", noted("What the swath swept."), "swath__said"),
        Column("standing", noted("How the swath stands."), "swath__standing"),
        Column("swath id", noted("Identity of the swath."), "swath_id"),
        ID,
    ),
    rows_of(Retest, CYCLE_ZONE, "cycle__patch__coating", "cycle__patch__number", "cycle__number"),
)
CONCESSIONS = Table(
    "concessions",
    noted("What the owner lives with: a patch as it is, or a gate that is not passed."),
    (
        *under("coating"),
        PATCH._replace(what=noted("Number of the patch, where it is about one.")),
        Column("gate", noted("The gate, where it is about one."), "gate"),
        Column("reason", noted("Why."), "reason"),
        Column("owner", noted("Who conceded it."), "owner__name"),
        AT,
        *STRUCK,
        ID,
    ),
    rows_of(Concession, "coating__zone", "at"),
)
RELEASES = Table(
    "releases",
    noted("Releases into service with the head of the record they were given on, and their withdrawal."),
    (
        *under("coating"),
        Column("conditions", noted("On what conditions; empty for none."), "conditions"),
        Column("released by", noted("Who released."), "owner__name"),
        AT,
        Column("record entry", noted("Number of the record's last entry then."), "head_seq"),
        Column("record sha256", noted("Its sha256."), "head_hash"),
        Column("gates", noted("The gates as they stood, as JSON."), "gates", as_json),
        Column("withdrawn at", noted("When it was withdrawn; empty while it stands."), "withdrawn_at"),
        Column("withdrawn by", noted("Who withdrew it."), "withdrawn_by__name"),
        Column("withdrawn why", noted("Why."), "withdrawn_why"),
        ID,
    ),
    rows_of(Release, "coating__zone", "at"),
)
TABLES = (
    FLAWS, CLASSIFICATIONS, PATCHES, PATCH_FLAWS, CYCLES, STEPS, RETESTS, CONCESSIONS, RELEASES,
)  # fmt: skip
