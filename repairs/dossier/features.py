"""Welds, edges, nozzles and brackets on paper: what the stage asks of them, what is tested, and where not."""

from __future__ import annotations

from reportlab.platypus import Flowable

from accounts.wording import say
from repairs.dossier.layout import LEAD, Paper, says, section, table
from repairs.dossier.reader import NOTHING, Reader
from repairs.feature_ground import part_words
from repairs.pages.feature_rows import sum_words
from repairs.picture import ZonePicture


def features_of(picture: ZonePicture, reader: Reader, paper: Paper) -> list[Flowable]:
    """Every feature of the zone with its state; one sentence where there is none."""
    story: list[Flowable] = [section(say("Welds, edges, nozzles and brackets"))]
    asked = picture.stage.coverage_asked
    asked = f"{asked[:1].upper()}{asked[1:]}."
    if not picture.features.features:
        return [*story, says(f"{say('None is marked on this zone.')} {asked}")]
    told = " ".join(sum_words(each, reader.units) for each in picture.features.sums())
    rows = [
        [
            str(each.feature),
            each.feature.said,
            reader.length(each.feature.length, 2) if each.feature.length is not None else say("counted"),
            part_words(each.worst),
            each.untested_said or NOTHING,
        ]
        for each in picture.features.features
    ]
    heads = [say("what"), say("where"), say("size"), say("state"), say("not tested, along it")]
    return [*story, says(f"{asked} {told}", LEAD), *table(heads, rows, [95, 190, 60, 76, 90], paper.measure)]
