"""Settings: everything that differs between machines comes from the environment, typed and checked here."""

import os
from pathlib import Path
from urllib.parse import urlsplit

import dj_database_url

BASE_DIR = Path(__file__).resolve().parent.parent


def env_bool(name: str, default: bool) -> bool:
    """A yes/no from the environment; ValueError for anything that is neither."""
    text = os.environ.get(name, "").strip().lower()
    if text == "":
        return default
    if text in {"1", "true", "yes", "on"}:
        return True
    if text in {"0", "false", "no", "off"}:
        return False
    raise ValueError(f"{name} must be yes or no, not {text!r}.")


def env_list(name: str, default: str = "") -> list[str]:
    """A comma-separated list from the environment."""
    return [part.strip() for part in os.environ.get(name, default).split(",") if part.strip()]


def tiles_origin(address: str) -> list[str]:
    """Scheme and host that a page with a map may fetch pictures from; ValueError for an address that is no template."""
    if not address:
        return []
    parts = urlsplit(address)
    if parts.scheme != "https" or not parts.netloc or not all(mark in address for mark in ("{z}", "{x}", "{y}")):
        raise ValueError("MAP_TILES_ADDRESS must begin with https:// and hold {z}, {x} and {y}.")
    return [f"https://{parts.netloc}"]


# Development is the default, so that one command starts the site; a server says DEBUG=no and must bring a key.
DEBUG = env_bool("DEBUG", True)
SECRET_KEY = os.environ.get("SECRET_KEY", "development-only-key-of-no-value" if DEBUG else "")
SECRET_KEY_FALLBACKS = env_list("SECRET_KEY_FALLBACKS")
ALLOWED_HOSTS = env_list("ALLOWED_HOSTS", "*" if DEBUG else "")
CSRF_TRUSTED_ORIGINS = env_list("CSRF_TRUSTED_ORIGINS")
SITE_ADDRESS = os.environ.get("SITE_ADDRESS", "http://localhost:8000").rstrip("/")

# Where this installation keeps what it makes: database, photos, documents, the mail folder of development.
DATA_DIR = Path(os.environ.get("DATA_DIR", BASE_DIR / ".var"))
# SQLite makes its file but not the folder for it: without this a fresh clone can't be started.
DATA_DIR.mkdir(parents=True, exist_ok=True)
# The keys that sign certificates. Back them up apart from the database: who has both could forge both.
SIGNING_KEY_DIR = Path(os.environ.get("SIGNING_KEY_DIR", DATA_DIR / "keys"))
# A time-stamp service (RFC 3161) that certificates are stamped by; none unless one is named.
TIMESTAMP_ADDRESS = os.environ.get("TIMESTAMP_ADDRESS", "")
# Who finds addresses on the map: the dotted path of a class as in properties/geocoding.py, or nobody. The demo's
# invented streets are found by "contractor.properties.geocoding.StreetFile".
GEOCODER = os.environ.get("GEOCODER", "")
GEOCODER_FILE = os.environ.get("GEOCODER_FILE", str(BASE_DIR / "fixtures/demo/streets.json"))
# Pictures under the maps, as an address with {z}, {x} and {y}, and whom to name for them; maps are plain without one.
MAP_TILES_ADDRESS = os.environ.get("MAP_TILES_ADDRESS", "")
MAP_TILES_CREDIT = os.environ.get("MAP_TILES_CREDIT", "")

INSTALLED_APPS = [
    "contractor.accounts",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "crispy_forms",
    "crispy_bootstrap5",
    "django_htmx",
    "csp",
    "contractor.core",
    "contractor.properties",
    "contractor.notices",
    "contractor.systems",
    "contractor.visits",
    "contractor.checkups",
    "contractor.estimates",
    "contractor.plans",
    "contractor.warranties",
    "contractor.tablet",
    "contractor.office",
    "contractor.portal",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "csp.middleware.CSPMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "contractor.accounts.context.CountryStyle",
    "contractor.core.pages.PrivatePagesMiddleware",
    "contractor.core.pages.RefusalMiddleware",
]

ROOT_URLCONF = "contractor.urls"
WSGI_APPLICATION = "contractor.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "contractor.accounts.context.company",
                "contractor.accounts.context.navigation",
            ],
        },
    }
]

# PostgreSQL when DATABASE_URL says so, else SQLite in the data folder.
DATABASES = {
    "default": dj_database_url.config(
        default=f"sqlite:///{DATA_DIR / 'site.sqlite3'}", conn_max_age=60, conn_health_checks=True
    )
}
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    # IMMEDIATE takes the write lock at the start, so two writers wait for each other instead of failing;
    # FULL keeps a commit through a power cut, because a receipt is a promise.
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": (
            "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON; "
            "PRAGMA journal_size_limit=67108864;"
        ),
    }
else:
    # A commit waits for the disk even where the server's default says otherwise: a receipt is a promise.
    DATABASES["default"].setdefault("OPTIONS", {})["options"] = (
        "-c statement_timeout=30s -c lock_timeout=5s -c idle_in_transaction_session_timeout=60s "
        "-c synchronous_commit=on"
    )
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "accounts.User"
LOGIN_URL = "accounts:sign_in"
LOGIN_REDIRECT_URL = "accounts:front_door"
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 12},
    },
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
# A link to set a new password is a key in a mailbox: it lasts an hour.
PASSWORD_RESET_TIMEOUT = 3600
SESSION_COOKIE_AGE = 7 * 24 * 3600
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_HTTPONLY = True

LANGUAGE_CODE = "en-us"
TIME_ZONE = os.environ.get("TIME_ZONE", "America/New_York")
USE_I18N = False
USE_TZ = True

STATIC_URL = "static/"
STATICFILES_DIRS = [BASE_DIR / "static"]
STATIC_ROOT = DATA_DIR / "static"
# Media are private evidence: they are served by views that check who asks, never from an address of their own.
MEDIA_ROOT = DATA_DIR / "media"
FIXTURES = BASE_DIR / "fixtures"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if DEBUG
        else "contractor.tablet.static_files.ModuleStaticFilesStorage"
    },
}
WHITENOISE_USE_FINDERS = DEBUG
DATA_UPLOAD_MAX_MEMORY_SIZE = 12 * 1024 * 1024
FILE_UPLOAD_PERMISSIONS = 0o640

CRISPY_ALLOWED_TEMPLATE_PACKS = "bootstrap5"
CRISPY_TEMPLATE_PACK = "bootstrap5"

# Mail: a real server when EMAIL_HOST is set; otherwise every message is a file that a person can read.
EMAIL_HOST = os.environ.get("EMAIL_HOST", "")
EMAIL_PORT = int(os.environ.get("EMAIL_PORT", "587"))
EMAIL_HOST_USER = os.environ.get("EMAIL_HOST_USER", "")
EMAIL_HOST_PASSWORD = os.environ.get("EMAIL_HOST_PASSWORD", "")
EMAIL_USE_TLS = env_bool("EMAIL_USE_TLS", True)
EMAIL_FILE_PATH = DATA_DIR / "mail"
EMAIL_BACKEND = (
    "django.core.mail.backends.smtp.EmailBackend" if EMAIL_HOST else "django.core.mail.backends.filebased.EmailBackend"
)
DEFAULT_FROM_EMAIL = os.environ.get("DEFAULT_FROM_EMAIL", "office@example.com")
# Text messages: the class that hands them over; by default each becomes a file. A carrier reports answers and failures
# with this word; without one those doors are shut.
TEXT_GATEWAY = os.environ.get("TEXT_GATEWAY", "contractor.notices.texting.FileGateway")
TEXT_GATEWAY_WORD = os.environ.get("TEXT_GATEWAY_WORD", "")
TEXT_FILE_PATH = DATA_DIR / "texts"

# A routing server for driving times, such as http://routes.example.com:5000; empty: from straight distances.
TRAVEL_SERVER = os.environ.get("TRAVEL_SERVER", "")
CACHES = {
    "default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"},
    # Drives that were asked for: on the disk, so that the worker and the site share them.
    "travel": {
        "BACKEND": "django.core.cache.backends.filebased.FileBasedCache",
        "LOCATION": DATA_DIR / "travel",
        "OPTIONS": {"MAX_ENTRIES": 20_000},
    },
}

# The tablet: the oldest version of its page that is still asked to stay ("" for all); data of every version is taken.
TABLET_MIN_CLIENT = os.environ.get("TABLET_MIN_CLIENT", "")
# Serves a worker that takes itself away and deletes no data, should a broken one ever be out there.
TABLET_WORKER_OFF = env_bool("TABLET_WORKER_OFF", False)

# Background work: Redis when CELERY_BROKER_URL is set, else in process.
CELERY_BROKER_URL = os.environ.get("CELERY_BROKER_URL", "memory://localhost/")
CELERY_TASK_ALWAYS_EAGER = CELERY_BROKER_URL.startswith("memory:")
CELERY_TASK_EAGER_PROPAGATES = False
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_TASK_TIME_LIMIT = 300
CELERY_TASK_SOFT_TIME_LIMIT = 240
CELERY_WORKER_MAX_TASKS_PER_CHILD = 200
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BROKER_TRANSPORT_OPTIONS = {
    "visibility_timeout": 3600,
    "unacked_restore_interval": 10,
    "unacked_restore_throttle": 1,
    "socket_timeout": 30,
    "socket_keepalive": True,
}
CELERY_TIMEZONE = TIME_ZONE

# Security headers. No inline script or style anywhere, nothing from other hosts.
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'none'"],
        "script-src": ["'self'"],
        "style-src": ["'self'"],
        "img-src": ["'self'", "data:", "blob:", *tiles_origin(MAP_TILES_ADDRESS)],
        "font-src": ["'self'"],
        "connect-src": ["'self'"],
        "worker-src": ["'self'"],
        "manifest-src": ["'self'"],
        "form-action": ["'self'"],
        "base-uri": ["'none'"],
        "object-src": ["'none'"],
        "frame-ancestors": ["'none'"],
    }
}
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
# Behind a proxy that sets X-Forwarded-Proto and X-Forwarded-For itself.
BEHIND_PROXY = env_bool("BEHIND_PROXY", False)
if not DEBUG:
    SECURE_SSL_REDIRECT = env_bool("SECURE_SSL_REDIRECT", True)
    SECURE_HSTS_SECONDS = 63072000
    SECURE_HSTS_INCLUDE_SUBDOMAINS = True
    SECURE_HSTS_PRELOAD = True
    SESSION_COOKIE_SECURE = True
    CSRF_COOKIE_SECURE = True
    SESSION_COOKIE_NAME = "__Host-session"
    CSRF_COOKIE_NAME = "__Host-csrf"
    if BEHIND_PROXY:
        SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "%(asctime)s %(levelname)s %(name)s %(message)s"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    # WeasyPrint warns of every rule that is meant for screens only.
    # A signature that doesn't hold is an answer to whoever asked, not an error of ours.
    "loggers": {"weasyprint": {"level": "ERROR"}, "pyhanko": {"level": "CRITICAL"}},
    "root": {"handlers": ["console"], "level": os.environ.get("LOG_LEVEL", "WARNING")},
}
