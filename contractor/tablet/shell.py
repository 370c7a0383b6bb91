"""The shell of the tablet's page: which files it is made of, and the version that stands for all of them.

Everybody gets the same bytes. The service worker keeps exactly these files, all of them or none.
"""

import hashlib
import json
from functools import lru_cache
from pathlib import Path
from typing import Any

from django.conf import settings
from django.template.loader import render_to_string
from django.templatetags.static import static

# Folders and files under static/ that the page is made of; a folder counts with everything in it.
PARTS = (
    "js/tablet",
    "js/theme.js",
    "js/theme_early.js",
    "css/tokens.css",
    "css/fonts.css",
    "css/base.css",
    "css/parts.css",
    "css/forms.css",
    "css/marks.css",
    "css/tablet.css",
    "css/checkups.css",
    "css/tablet_app.css",
    "img/sign.svg",
    "tablet",
    "vendor/atkinson-hyperlegible-next",
    "vendor/source-serif-4",
    "vendor/idb",
    "vendor/signature_pad",
)
SUFFIXES = {".js", ".css", ".svg", ".png", ".webmanifest", ".woff2", ".json"}
# A thread's file is named in code, where no storage rewrites its address: it is kept under its plain one too.
PLAIN = ("js/tablet/journal_writer.js",)
TEMPLATES = ("tablet/shell.html", "tablet/worker.js")


def shell_files() -> list[str]:
    """The static files of the page, by name, in a fixed order."""
    root = Path(settings.STATICFILES_DIRS[0])
    found: set[str] = set()
    for part in PARTS:
        path = root / part
        files = [path] if path.is_file() else path.rglob("*") if path.is_dir() else []
        found |= {file.relative_to(root).as_posix() for file in files if file.is_file() and file.suffix in SUFFIXES}
    return sorted(found)


def version() -> str:
    """Twelve characters that change when anything that the page is made of changes."""
    return _kept_version() if not settings.DEBUG else _read_version()


def worker_context(*, shell_address: str) -> dict[str, Any]:
    """What the service worker's template is filled with."""
    plain = [settings.STATIC_URL + name for name in PLAIN]
    addresses = [shell_address, *sorted({*plain, *(static(name) for name in shell_files())})]
    return {"version": version(), "addresses_json": json.dumps(addresses)}


@lru_cache(maxsize=1)
def _kept_version() -> str:
    return _read_version()


def _read_version() -> str:
    digest = hashlib.sha256()
    root = Path(settings.STATICFILES_DIRS[0])
    for name in shell_files():
        digest.update(name.encode())
        digest.update((root / name).read_bytes())
    for name in TEMPLATES:
        digest.update(render_to_string(name, {"version": "", "addresses_json": "[]"}).encode())
    return digest.hexdigest()[:12]
