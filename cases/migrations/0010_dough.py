import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ("cases", "0009_plan"),
    ]

    operations = [
        migrations.AddField(
            model_name="resin",
            name="room_c",
            field=models.FloatField(blank=True, null=True),
        ),
        migrations.CreateModel(
            name="Mix",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("attempt", models.PositiveSmallIntegerField()),
                ("mixed_at", models.DateTimeField()),
                ("room_c", models.FloatField(blank=True, null=True)),
                ("opens_at", models.DateTimeField(blank=True, null=True)),
                ("closes_at", models.DateTimeField(blank=True, null=True)),
                ("closed_at", models.DateTimeField(blank=True, null=True)),
                ("by", models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="cases.person")),
                ("case", models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="mixes", to="cases.case")),
                ("resin", models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="mixes", to="cases.resin")),
                ("stage", models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="mixes", to="cases.casestage")),
            ],
            options={
                "ordering": ("pk",),
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("closed_at__isnull", True), ("closed_at__gte", models.F("mixed_at")), _connector="OR"), name="mix_closed_after"),
                    models.CheckConstraint(condition=models.Q(("opens_at__isnull", True), ("closes_at__isnull", True), ("opens_at__lte", models.F("closes_at")), _connector="OR"), name="mix_window"),
                ],
            },
        ),
    ]
