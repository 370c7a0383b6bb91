import contractor.properties.models
from contractor.properties.addresses import street_order
from django.db import migrations, models


def sort_known_houses(apps, schema_editor):
    """Gives every house on record its place among the streets."""
    known = apps.get_model("properties", "Property").objects
    houses = list(known.only("pk", "street", "unit"))
    for house in houses:
        house.by_street = street_order(house.street, house.unit)
    known.bulk_update(houses, ["by_street"], batch_size=500)


class Migration(migrations.Migration):

    dependencies = [
        ('properties', '0004_owner_wishes'),
    ]

    operations = [
        migrations.RemoveIndex(
            model_name='property',
            name='property_street',
        ),
        migrations.AddField(
            model_name='property',
            name='by_street',
            field=contractor.properties.models.StreetOrderField(default='', editable=False, max_length=250),
        ),
        migrations.RunPython(sort_known_houses, migrations.RunPython.noop),
        migrations.AddIndex(
            model_name='property',
            index=models.Index(fields=['by_street', 'id'], name='property_by_street'),
        ),
    ]
