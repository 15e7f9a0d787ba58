"""The settings with a site of its own, whose pages hang in several ways."""

from maker.settings import *  # noqa: F403 - all of them

ROOT_URLCONF = "tests.maker.hanging_site"
