"""The paints of a zone's patches: what each repair coat asks for, and which batches went into which patch."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from inspections.terms import Terms
from repairs.packs import PatchPicture
from repairs.work import Step


class Used(NamedTuple):
    """A product and batch as they were recorded ("" where none was named), and the patches they went into, by name."""

    product: str
    batch: str
    patches: tuple[str, ...]


class Paint(NamedTuple):
    """A repair coat: its name and product by the specification, and what was used for it so far."""

    coat: str
    product: str
    used: tuple[Used, ...]


def paints_of(terms: Terms, patches: Iterable[PatchPicture]) -> tuple[Paint, ...]:
    """One row for each repair coat of the specification, batches in the order in which they were first used."""
    found: list[dict[tuple[str, str], dict[str, None]]] = [{} for _ in terms.repair_coats]
    steps = sorted(
        ((step, patch.name) for patch in patches for cycle in patch.cycles for step in cycle.steps),
        key=lambda told: told[0].at,
    )
    for step, patch in steps:
        if step.kind == Step.Kind.COATED and step.coat and step.coat <= len(found):
            found[step.coat - 1].setdefault((step.product, step.batch), {})[patch] = None
    return tuple(
        Paint(
            coat.name,
            coat.product,
            tuple(Used(product, batch, tuple(names)) for (product, batch), names in used.items()),
        )
        for coat, used in zip(terms.repair_coats, found, strict=True)
    )
