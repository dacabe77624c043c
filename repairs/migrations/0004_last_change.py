"""What touched each coating last, so that its tally can wait until it is read. Tallies from before are all made anew."""

import uuid

import django.db.models.deletion
from django.db import migrations, models


def note_every_coating(apps, schema_editor):
    coatings = apps.get_model("inspections", "Coating").objects.values_list("pk", flat=True)
    changes = apps.get_model("repairs", "LastChange").objects
    changes.bulk_create([changes.model(coating_id=pk, operation=uuid.uuid4()) for pk in coatings], batch_size=500)


class Migration(migrations.Migration):
    dependencies = [
        ("inspections", "0015_air_instruments"),
        ("repairs", "0003_tally"),
    ]

    operations = [
        migrations.CreateModel(
            name="LastChange",
            fields=[
                ("coating", models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, primary_key=True, related_name="last_change", serialize=False, to="inspections.coating")),
                ("operation", models.UUIDField()),
            ],
        ),
        migrations.AddField(model_name="tally", name="made_after", field=models.UUIDField(null=True)),
        migrations.RunPython(note_every_coating, migrations.RunPython.noop),
    ]
