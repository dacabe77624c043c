"""Importing a list of joints, girth welds and other landmarks. All of it is recorded, or nothing."""

from __future__ import annotations

from typing import Any, NamedTuple

from django.utils.translation import gettext_lazy as _

from accounts.acting import Acting, action
from accounts.assets import Asset
from accounts.ids import named_id
from accounts.people import Person, Role
from accounts.tablefile import Problem, TableError
from accounts.wording import say
from mapping.actions.tables import (
    TableGiven,
    check_may_look,
    content_of,
    keep_table,
    refuse_nothing_new,
    refuse_rows,
)
from mapping.jointfile import read_joints
from mapping.landmarks import Landmark
from mapping.zones import chainage_of

ROLES = frozenset({Role.OWNER, Role.LEAD})


class JointPlan(NamedTuple):
    """What recording a list would do: landmarks to make, how many are there already, and what cannot be taken."""

    new: tuple[Landmark, ...]
    same: int
    problems: tuple[Problem, ...]


@action("import_joints", takes=TableGiven, roles=ROLES, on=Asset, title=_("Import a joint list"))
def import_joints(act: Acting, asset: Asset, given: dict[str, Any]) -> list[Landmark]:
    """Record joints, girth welds and other landmarks from a list: all rows, or none and every bad one named."""
    content, name = content_of(given["file"], given["text"])
    try:
        plan = joint_plan(asset, content, name)
    except TableError as problem:
        act.refuse("file", str(problem))
    refuse_rows(plan.problems)
    if not plan.new:
        words = say("All {count} landmarks are recorded already; nothing changes.", count=plan.same)
        refuse_nothing_new(act, asset, say("This list has no landmarks."), words)
    keep_table(act, asset, content, name)
    return list(act.insert_many(plan.new))


def look_at_joints(person: Person, asset: Asset, content: bytes, name: str) -> JointPlan:
    """The dry run, for whoever may import. Writes nothing.

    Raises NotFound or PermissionDenied as the action does, and TableError for a file that cannot be read.
    """
    check_may_look(person, "import_joints", asset)
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
            told = say(
                "is recorded at {found}; what is recorded does not change: strike it out and import again.",
                found=found.said,
            )
            problems.append(Problem(mark.row, "at", mark.said, told))
    return JointPlan(tuple(new), same, tuple(problems))
