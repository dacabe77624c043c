"""What somebody said to a question about a run or a reading."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from accounts.rows import Row
from accounts.wording import say
from inspections.coatings import Coating
from inspections.questions import KINDS
from inspections.runs import Run


class Answer(Row):
    """The answer to one question, by its key; of several the last counts. `asked` is the question as it stood, in English."""

    record_path = "coating__zone__asset"
    facts = ("coating", "run", "code", "key", "asked", "verdict", "why", "by", "at")

    class Verdict(models.TextChoices):
        EXPLAINED = "explained", _("it is explained, and nothing is wrong")
        CORRECTED = "to be corrected", _("the record is wrong and will be corrected")
        SO = "so it was", _("so it was")

    coating = models.ForeignKey(Coating, models.PROTECT, related_name="answers")
    run = models.ForeignKey(Run, models.PROTECT, null=True, blank=True, related_name="answers")
    code = models.CharField(max_length=20)
    key = models.CharField(max_length=60)
    asked = models.TextField(blank=True)
    verdict = models.CharField(max_length=20, choices=Verdict)
    why = models.TextField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    @property
    def title(self) -> str:
        return say(KINDS[self.code].title)

    class Meta:
        # The questions of a coating are listed each with what was said to it.
        indexes = [models.Index(fields=["coating", "key"])]
