from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('tablet', '0002_who_a_visit_waits_for'),
    ]

    operations = [
        migrations.AlterModelOptions(
            name='serverepoch',
            options={'ordering': ['-number']},
        ),
        migrations.AddField(
            model_name='serverepoch',
            name='number',
            field=models.PositiveIntegerField(default=1, unique=True),
            preserve_default=False,
        ),
    ]
