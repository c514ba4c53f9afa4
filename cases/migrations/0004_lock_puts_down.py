from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ("cases", "0003_answers_in_the_order"),
    ]

    operations = [
        migrations.AddField(
            model_name="lab",
            name="lock_puts_down",
            field=models.BooleanField(default=True),
        ),
        migrations.AddField(
            model_name="workspan",
            name="ended_how",
            field=models.CharField(blank=True, default="", max_length=12),
        ),
        migrations.AddIndex(
            model_name="workspan",
            index=models.Index(
                condition=models.Q(("to_check", True)), fields=["person"], name="span_to_check"
            ),
        ),
        migrations.AddIndex(
            model_name="casestage",
            index=models.Index(
                condition=models.Q(("assignee__isnull", True), ("state", "paused")),
                fields=["skill"],
                name="case_stage_put_down",
            ),
        ),
    ]
