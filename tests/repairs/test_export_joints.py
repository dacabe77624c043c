"""A joint list that was taken along reads back as the same landmarks."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from accounts.acting import perform
from accounts.people import Role
from mapping.jointfile import read_joints
from mapping.landmarks import Landmark
from mapping.zones import chainage_of
from tests.factories import AssetFactory, appointed

LIST = b"""what,name,at,length,weld
joint,J-1,1+000.00,6.00,W-1
joint,J-2,1+006.00,5.50,W-2
valve,V-9,"1+011,50",,
"""


@pytest.mark.django_db
def test_what_was_taken_along_reads_back_as_the_same_landmarks() -> None:
    asset = AssetFactory()
    lead = appointed(Role.LEAD, asset)
    perform("import_joints", lead, asset.pk, {"file": SimpleUploadedFile("joints.csv", LIST)})
    client = Client()
    client.force_login(lead)
    assert "what=joint-list" in client.get(reverse("take_asset", args=[asset.pk])).content.decode()
    taken = client.get(reverse("asset_file", args=[asset.pk]), {"what": "joint-list"})
    read = read_joints(taken.content, "joints.csv", chainage_of(asset))
    assert read.problems == ()
    assert {(mark.kind, mark.name, mark.x, mark.said) for mark in read.marks} == set(
        Landmark.objects.filter(asset=asset).values_list("kind", "name", "x", "said")
    )
