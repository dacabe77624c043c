"""What the pages of repair actions offer to choose from."""

from __future__ import annotations

from collections.abc import Hashable

from django.utils import timezone

from accounts.people import Appointment, Person, Role
from accounts.wording import say
from inspections.coatings import Coating
from inspections.flaws import Flaw
from inspections.pages.offers import OFFERS, Offers
from inspections.runs import Run, Swath
from repairs import gates
from repairs.actions.patches import proposals
from repairs.actions.retests import retester_organisation
from repairs.state import PatchState, with_state
from repairs.work import Patch


def issue_patches(person: Person, coating: Coating) -> Offers:
    contractors = (
        Appointment.objects.in_force(timezone.now())
        .filter(asset=coating.zone.asset, role=Role.CONTRACTOR)
        .values_list("organisation_id", "organisation__name")
        .distinct()
        .order_by("organisation__name")
    )
    proposed = proposals(coating)
    tags: dict[Hashable, str] = {
        row.pk: row.tag
        for row in Flaw.objects.filter(pk__in=[pk for each in proposed for pk in each.ids]).select_related("sheet")
    }
    surface = coating.zone.surface
    return {
        "contractor": [(str(pk), name) for pk, name in contractors],
        "flaws": [
            (
                str(each.ids[0]),
                f"{', '.join(sorted(tags[pk] for pk in each.ids))}: {each.area:.2f} m², {surface.describe_region(each.shape)}",
            )
            for each in proposed
        ],
    }


def settle_retest(person: Person, patch: Patch) -> Offers:
    """Swaths of retest runs that reach the patch, the latest first. Whoever may not retest it is refused here already."""
    retester_organisation(person, patch)
    swaths = Swath.objects.filter(
        feature=None,
        run__sheet__coating=patch.coating,
        run__purpose=Run.Purpose.RETEST,
        run__struck_at=None,
        struck_at=None,
    ).select_related("run__sheet")
    reaching = [row for row in swaths.order_by("-ended_at")[:500] if row.shape.intersects(patch.shape)]
    return {
        "swath": [
            (str(row.pk), say("{row}, run {run}, {standing}", row=row.said, run=row.run.label, standing=row.standing))
            for row in reaching[:20]
        ]
    }


def concede(person: Person, coating: Coating) -> Offers:
    open_ones = with_state(Patch.objects.filter(coating=coating, struck_at=None)).exclude(
        state__in=[PatchState.ACCEPTED, PatchState.CONCEDED]
    )
    return {
        "patch": [(str(row.pk), f"{row}, {row.said}: {row.state}") for row in open_ones.order_by("number")],
        "gate": list(gates.NAMES.items()),
    }


OFFERS.update(issue_patches=issue_patches, settle_retest=settle_retest, concede=concede)
