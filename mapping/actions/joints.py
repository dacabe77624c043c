"""Importing a list of joints, girth welds and other landmarks. All of it is recorded, or nothing."""

from __future__ import annotations

from typing import Any, NamedTuple

from django.utils import timezone
from rest_framework import serializers
from rest_framework.exceptions import NotFound, PermissionDenied, ValidationError

from accounts import access
from accounts.acting import Acting, AlreadyRecorded, action
from accounts.assets import Asset
from accounts.evidence import Evidence, keep
from accounts.ids import named_id
from accounts.people import Person, Role
from accounts.record import Entry, Record
from accounts.tablefile import MOST_BYTES, Problem, TableError, media_type
from mapping.jointfile import read_joints
from mapping.landmarks import Landmark
from mapping.zones import chainage_of

ROLES = frozenset({Role.OWNER, Role.LEAD})
PASTED = "pasted.csv"


class JointPlan(NamedTuple):
    """What recording a list would do: landmarks to make, how many are there already, and what cannot be taken."""

    new: tuple[Landmark, ...]
    same: int
    problems: tuple[Problem, ...]


class ImportJoints(serializers.Serializer):
    """A file, or the same as pasted text."""

    private = ("text",)

    file = serializers.FileField(
        required=False,
        allow_null=True,
        default=None,
        label="File",
        max_length=200,
        help_text="CSV or XLSX, up to 10 MB.",
    )
    text = serializers.CharField(
        required=False,
        allow_blank=True,
        default="",
        trim_whitespace=False,
        max_length=MOST_BYTES,
        label="Or paste the table",
        style={"base_template": "textarea.html"},
    )

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        if bool(given["file"]) == bool(given["text"].strip()):
            raise serializers.ValidationError({"file": "Give one of the two: a file, or pasted text."})
        if given["file"] and given["file"].size > MOST_BYTES:
            size = f"{given['file'].size / 1e6:.1f} MB"
            raise serializers.ValidationError(
                {"file": f"{given['file'].name} has {size}; up to {MOST_BYTES // 1_000_000} MB are taken."}
            )
        return given


@action("import_joints", takes=ImportJoints, roles=ROLES, on=Asset, title="Import a joint list")
def import_joints(act: Acting, asset: Asset, given: dict[str, Any]) -> list[Landmark]:
    """Record joints, girth welds and other landmarks from a list: all rows, or none and every bad one named."""
    file = given["file"]
    content, name = (file.read(), file.name) if file else (given["text"].encode(), PASTED)
    try:
        plan = joint_plan(asset, content, name)
    except TableError as problem:
        act.refuse("file", str(problem))
    if plan.problems:
        told: dict[str, dict[str, list[str]]] = {}
        for item in plan.problems:
            told.setdefault(f"row {item.row}", {}).setdefault(item.column, []).append(item.sentence)
        raise ValidationError({"file": told})
    if not plan.new:
        entries = Entry.objects.filter(record=asset.pk)
        entry = entries.filter(what="import_joints").order_by("seq").last() or entries.order_by("seq").last()
        if entry is None:
            act.refuse("file", "This list has no landmarks.")
        raise AlreadyRecorded(entry, f"All {plan.same} landmarks are recorded already; nothing changes.")
    digest = keep(content)
    if not Evidence.objects.filter(record=asset.pk, sha256=digest).exists():
        act.insert(
            Evidence(
                record=Record.objects.get(pk=asset.pk),
                sha256=digest,
                name=name[:200],
                media_type=media_type(content),
                size=len(content),
                received_at=timezone.now(),
            )
        )
    return list(act.insert_many(plan.new))


def look_at_joints(person: Person, asset: Asset, content: bytes, name: str) -> JointPlan:
    """The dry run, for whoever may import. Writes nothing.

    Raises NotFound or PermissionDenied as the action does, and TableError for a file that cannot be read.
    """
    if not access.visible(person, Asset).filter(pk=asset.pk).exists():
        raise NotFound("There is no such asset.")
    if not ROLES & set(access.roles_on(person, asset)):
        raise PermissionDenied('"Import a joint list" is done by: asset owner, lead inspector.')
    return joint_plan(asset, content, name)


def joint_plan(asset: Asset, content: bytes, name: str) -> JointPlan:
    """Compare a list with the landmarks there are: same name and place is the same, same name elsewhere is refused."""
    listed = read_joints(content, name, chainage_of(asset))
    problems = list(listed.problems)
    there: dict[tuple[str, str], Landmark] = {}
    struck: dict[tuple[str, str], int] = {}
    for row in Landmark.objects.filter(asset=asset):
        key = (row.kind, row.name.casefold())
        if row.struck_at is None:
            there[key] = row
        else:
            struck[key] = struck.get(key, 0) + 1
    new, same = [], 0
    for mark in listed.marks:
        key = (mark.kind, mark.name.casefold())
        found = there.get(key)
        if found is None:
            pk = named_id(asset.pk, "landmark", *key, str(struck.get(key, 0)))
            new.append(Landmark(id=pk, asset=asset, kind=mark.kind, name=mark.name, said=mark.said, x=mark.x))
        elif abs(found.x - mark.x) < 1e-6 and found.said == mark.said:
            same += 1
        else:
            told = f"is recorded at {found.said}; what is recorded does not change: strike it out and import again."
            problems.append(Problem(mark.row, "at", mark.said, told))
    return JointPlan(tuple(new), same, tuple(problems))
