"""Evidence: files kept by their sha256 (photos, certificates, data sheets, imported sheets, dossiers)."""

from __future__ import annotations

import hashlib
from pathlib import Path

from django.conf import settings
from django.db import models

from accounts.record import Record
from accounts.rows import Row


class Evidence(Row):
    """A file's facts. The bytes lie under MEDIA_ROOT, named by their sha256; redaction removes bytes, never the hash."""

    record_path = "record"
    facts = ("record", "sha256", "media_type", "size", "taken_at", "received_at", "name")

    record = models.ForeignKey(Record, models.PROTECT, related_name="evidence")
    sha256 = models.CharField(max_length=64)
    name = models.CharField(max_length=200, blank=True)
    media_type = models.CharField(max_length=100)
    size = models.PositiveBigIntegerField()
    taken_at = models.DateTimeField(null=True, blank=True)
    received_at = models.DateTimeField()
    redacted_at = models.DateTimeField(null=True, blank=True)
    redacted_why = models.TextField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["record", "sha256"], name="evidence_once")]

    @property
    def path(self) -> Path:
        return Path(settings.MEDIA_ROOT) / self.sha256[:2] / self.sha256


def keep(content: bytes) -> str:
    """Write the bytes under their sha256 and return it; writing the same bytes twice is one file."""
    digest = hashlib.sha256(content).hexdigest()
    path = Path(settings.MEDIA_ROOT) / digest[:2] / digest
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        part = path.with_name(f"{digest}.part")
        part.write_bytes(content)
        part.replace(path)
    return digest


def kept(digest: str) -> bytes:
    """The bytes kept under a sha256. Raises FileNotFoundError when there are none."""
    return (Path(settings.MEDIA_ROOT) / digest[:2] / digest).read_bytes()
