"""Staff and the company itself."""

from django.contrib.auth.models import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models import Q

from contractor.core.audit import Actor


class Role(models.TextChoices):
    OFFICE = "office", "Office"
    TECHNICIAN = "technician", "Technician"
    MANAGER = "manager", "Manager"


class UserQuerySet(models.QuerySet["User"]):
    def technicians(self) -> "UserQuerySet":
        """Technicians who can be sent to a house."""
        return self.filter(role=Role.TECHNICIAN, is_active=True).order_by("name")


class UserManager(BaseUserManager["User"]):
    def get_queryset(self) -> UserQuerySet:
        return UserQuerySet(self.model, using=self._db)

    def technicians(self) -> UserQuerySet:
        return self.get_queryset().technicians()

    def get_by_natural_key(self, username: str | None) -> "User":
        """Who signs in with this address, as typed or in small letters: telephones begin words with a capital."""
        typed = (username or "").strip()
        return self.filter(email=typed).first() or self.get(email=typed.lower())


class User(AbstractBaseUser):
    """One of the staff, who signs in with an e-mail address and has exactly one role."""

    PERSONAL_FIELDS = ("email", "name", "phone", "password")

    email = models.EmailField(unique=True)
    name = models.CharField(max_length=120)
    phone = models.CharField(max_length=40, blank=True)
    role = models.CharField(max_length=20, choices=Role.choices)
    is_active = models.BooleanField(default=True)

    objects = UserManager()

    USERNAME_FIELD = "email"
    REQUIRED_FIELDS = ["name"]

    def __str__(self) -> str:
        return self.name

    @property
    def actor(self) -> Actor:
        """How this person stands in the audit trail."""
        return Actor(f"staff:{self.pk}", self.name)


class Company(models.Model):
    """The contractor who runs this installation and stands behind the warranties: one row."""

    class Units(models.TextChoices):
        US = "us", "US customary (inches, gallons, °F)"
        METRIC = "metric", "Metric (centimetres, litres, °C)"

    class Country(models.TextChoices):
        UNITED_STATES = "US", "United States"
        CANADA = "CA", "Canada"

    name = models.CharField(max_length=120)
    legal_name = models.CharField(max_length=160)
    licence = models.CharField(max_length=80, blank=True)
    street = models.CharField(max_length=120)
    city = models.CharField(max_length=80)
    state = models.CharField(max_length=40)
    postcode = models.CharField(max_length=12)
    country = models.CharField(max_length=2, choices=Country.choices, default=Country.UNITED_STATES)
    phone = models.CharField(max_length=40)
    email = models.EmailField()
    units = models.CharField(max_length=8, choices=Units.choices, default=Units.US)
    latitude = models.FloatField(null=True, blank=True)
    longitude = models.FloatField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "companies"
        constraints = [
            models.CheckConstraint(
                condition=Q(latitude__isnull=True, longitude__isnull=True)
                | Q(latitude__gte=-90, latitude__lte=90, longitude__gte=-180, longitude__lte=180),
                name="company_position_on_earth",
            )
        ]

    def __str__(self) -> str:
        return self.name
