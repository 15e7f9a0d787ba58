"""WSGI entry point."""

import os

from django.core.wsgi import get_wsgi_application
from django.urls import get_resolver

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "maker.settings")
whole_app = get_wsgi_application()
# every page's code, before processes part that share it; the first visitor would wait for it
get_resolver().url_patterns  # noqa: B018 - loads what it names

from maker.heavy_pages.handing_over import arranged  # noqa: E402 - needs Django set up

application = arranged(whole_app)
