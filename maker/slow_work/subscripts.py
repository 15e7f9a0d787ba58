"""What django-tasks needs of django-stubs-ext at run time, without Django's admin.

django-tasks writes `BaseConnectionHandler[...]` and has django-stubs-ext make 36 classes of Django
bear that, among them those of the admin, of feeds and of site maps: to import them all takes a
tenth of what a command takes to start. The one class that is meant is made to bear it here.
"""

import sys
from types import ModuleType

from django.utils.connection import BaseConnectionHandler

HEAVY_MODULE = "django_stubs_ext.patch"


def monkeypatch(extra_classes: object = None) -> None:
    """Let the class be written with a type in brackets, which changes nothing when it runs."""
    BaseConnectionHandler.__class_getitem__ = classmethod(lambda cls, item: cls)  # type: ignore[attr-defined]


def stand_in() -> None:
    """Be found where django-stubs-ext looks for its own heavy module, unless that is there."""
    light = ModuleType(HEAVY_MODULE, __doc__)
    light.monkeypatch = monkeypatch  # type: ignore[attr-defined]
    sys.modules.setdefault(HEAVY_MODULE, light)
