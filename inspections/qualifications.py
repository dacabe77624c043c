"""What people are qualified as, by whose scheme and until when: on the record of their organisation."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from accounts.evidence import Evidence
from accounts.people import Person
from accounts.rows import Row, Strikeable
from inspections.qualified import PaperFact


class Qualification(Row, Strikeable):
    """A card or certificate of a person. One that is withdrawn is struck out with the reason and counts on no day."""

    record_path = "person__organisation"
    private = ("number",)
    facts = ("person", "scheme", "level", "number", "issued", "expires", "evidence", "recorded_at", "by")

    person = models.ForeignKey(Person, models.PROTECT, related_name="qualifications")
    scheme = models.CharField(max_length=120)
    level = models.CharField(max_length=60, blank=True)
    number = models.CharField(max_length=60)
    issued = models.DateField()
    expires = models.DateField(null=True, blank=True, help_text=_("Empty where it does not run out."))
    evidence = models.ForeignKey(Evidence, models.PROTECT, null=True, blank=True, related_name="+")
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta(Strikeable.Meta):
        abstract = False

    def __str__(self) -> str:
        return self.fact.label

    @property
    def fact(self) -> PaperFact:
        return PaperFact(self.scheme, self.level, self.issued, self.expires)
