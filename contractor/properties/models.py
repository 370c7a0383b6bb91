"""Houses, the people who own them, and for how long."""

from datetime import date, datetime

from django.db import models
from django.db.models import F, Q

from contractor.accounts.models import User
from contractor.properties.addresses import STREET_ORDER_LENGTH, street_order


class StreetOrderField(models.CharField):  # type: ignore[type-arg]
    """What a list of houses is sorted by. Made anew from street and unit whenever the house is written."""

    def pre_save(self, model_instance: models.Model, add: bool) -> str:
        """The key of the house as it is about to be written."""
        key = street_order(model_instance.street, model_instance.unit)  # type: ignore[attr-defined]
        setattr(model_instance, self.attname, key)
        return key


class PropertyQuerySet(models.QuerySet["Property"]):
    def with_address(self, address_key: str) -> "PropertyQuerySet":
        """The house with this normalised address; at most one."""
        return self.filter(address_key=address_key)

    def without_position(self) -> "PropertyQuerySet":
        """Houses whose own position is not on record."""
        return self.filter(latitude__isnull=True)


class Property(models.Model):
    """The house: it outlives its owners."""

    PERSONAL_FIELDS = ("street", "unit", "access_notes", "address_key", "by_street")

    class PositionSource(models.TextChoices):
        NONE = "", "No position yet"
        IMPORTED = "imported", "From the imported register"
        BY_HAND = "by_hand", "Set by hand"
        GEOCODED = "geocoded", "Found from the address"
        POSTCODE = "postcode", "Middle of the ZIP code: rough"

    street = models.CharField(max_length=120)
    unit = models.CharField(max_length=40, blank=True)
    city = models.CharField(max_length=80)
    state = models.CharField(max_length=40)
    postcode = models.CharField(max_length=12)
    country = models.CharField(max_length=2, default="US")
    address_key = models.CharField(max_length=200, unique=True)
    by_street = StreetOrderField(max_length=STREET_ORDER_LENGTH, editable=False, default="")
    latitude = models.FloatField(null=True, blank=True)
    longitude = models.FloatField(null=True, blank=True)
    position_source = models.CharField(max_length=12, choices=PositionSource.choices, blank=True)
    position_note = models.CharField(max_length=200, blank=True, help_text="Why the address was not found on the map.")
    access_notes = models.TextField(blank=True)
    created_at = models.DateTimeField()

    objects = PropertyQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "properties"
        indexes = [models.Index(fields=["by_street", "id"], name="property_by_street")]
        constraints = [
            models.CheckConstraint(
                condition=Q(latitude__isnull=True, longitude__isnull=True)
                | Q(latitude__gte=-90, latitude__lte=90, longitude__gte=-180, longitude__lte=180),
                name="property_position_on_earth",
            )
        ]

    def __str__(self) -> str:
        return self.address_line

    @property
    def street_line(self) -> str:
        """Street and unit on one line."""
        return f"{self.street}, {self.unit}" if self.unit else self.street

    @property
    def address_line(self) -> str:
        """The whole address on one line."""
        return f"{self.street_line}, {self.city}, {self.state} {self.postcode}"


class Person(models.Model):
    """An owner: a person, a household or a firm."""

    PERSONAL_FIELDS = ("name", "email", "phone", "mail_address")

    name = models.CharField(max_length=160)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    mail_address = models.TextField(blank=True, help_text="Only when letters go elsewhere than to the house.")
    wants_email = models.BooleanField(default=True)
    wants_texts = models.BooleanField(default=False)
    created_at = models.DateTimeField()

    class Meta:
        verbose_name_plural = "people"
        indexes = [models.Index(fields=["name"], name="person_name")]

    def __str__(self) -> str:
        return self.name


class OwnershipQuerySet(models.QuerySet["Ownership"]):
    def current(self, on: date) -> "OwnershipQuerySet":
        """Ownerships that hold on this day; the day of a hand-over belongs to the new owner."""
        return self.filter(from_on__lte=on).filter(Q(until_on__isnull=True) | Q(until_on__gt=on))

    def open_ended(self) -> "OwnershipQuerySet":
        """The latest ownership of each house."""
        return self.filter(until_on__isnull=True)


class Ownership(models.Model):
    """The period during which a person owns a house: from a day, until (excluding) another."""

    property = models.ForeignKey(Property, on_delete=models.PROTECT, related_name="ownerships")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="ownerships")
    from_on = models.DateField()
    until_on = models.DateField(null=True, blank=True)

    objects = OwnershipQuerySet.as_manager()

    class Meta:
        ordering = ["from_on", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["property"], condition=Q(until_on__isnull=True), name="one_present_owner_per_property"
            ),
            models.CheckConstraint(
                condition=Q(until_on__isnull=True) | Q(until_on__gte=F("from_on")), name="ownership_ends_after_start"
            ),
        ]

    def __str__(self) -> str:
        return f"ownership {self.pk}"


class OwnerLinkQuerySet(models.QuerySet["OwnerLink"]):
    def usable(self, at: datetime) -> "OwnerLinkQuerySet":
        """Links that open the house at this moment."""
        return self.filter(revoked_at__isnull=True, expires_at__gt=at, ownership__until_on__isnull=True)


class OwnerLink(models.Model):
    """A secret link for one owner of one house. Only the hash of the token is kept."""

    ownership = models.ForeignKey(Ownership, on_delete=models.PROTECT, related_name="links")
    token_sha256 = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True)
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_opened_at = models.DateTimeField(null=True, blank=True)

    objects = OwnerLinkQuerySet.as_manager()

    def __str__(self) -> str:
        return f"link {self.pk}"
