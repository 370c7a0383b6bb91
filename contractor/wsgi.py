"""The entry point for a WSGI server."""

import os

from django.core.wsgi import get_wsgi_application
from django.urls import get_resolver

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")

application = get_wsgi_application()
# Every page is imported now and not with the first request, which a tablet would give up waiting for.
_ = get_resolver().url_patterns
