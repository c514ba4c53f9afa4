from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("cases", "0011_cut"),
    ]

    operations = [
        migrations.AddField(
            model_name="person",
            name="notation",
            field=models.CharField(blank=True, default="", max_length=12),
        ),
        migrations.AddConstraint(
            model_name="person",
            constraint=models.CheckConstraint(
                condition=models.Q(("notation__in", ("", "fdi", "universal", "palmer"))),
                name="person_notation_is_known",
            ),
        ),
    ]
