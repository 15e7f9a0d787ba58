"""A copy of the demo, restored elsewhere, is the same in every row and on every page."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from maker.setup.place import ROOT
from tests.maker.backup_scene import answer_of, manage, rows_of
from tests.maker.setup_scene import clean_env

# follows the links from the first page of each workshop, in a program of its own, so that settings
# and database are those of the copy; left out is what is new each time a page is opened
PAGES = """
import json, re
import django
django.setup()
from django.conf import settings
from django.test import Client
from maker.accounts.models import User
from maker.workshop.models import Workshop
settings.ALLOWED_HOSTS = ["testserver"]
client = Client()
client.force_login(User.objects.order_by("pk").first(), "django.contrib.auth.backends.ModelBackend")
found = {}
waiting = [f"/w/{shop.slug}/" for shop in Workshop.objects.order_by("pk")]
while waiting and len(found) < 250:
    path = waiting.pop(0)
    if path in found:
        continue
    answer = client.get(path)
    if answer.status_code != 200 or "text/html" not in answer["Content-Type"]:
        found[path] = answer.status_code
        continue
    text = re.sub(r'csrfmiddlewaretoken" value="[^"]*"', "", answer.content.decode())
    text = re.sub(r'<p class="last-copy.*?</p>', "", text, flags=re.S)
    text = re.sub(r'value="[0-9a-f-]{36}"', "", text)
    found[path] = text
    waiting += re.findall(r'href="(/w/[^"?#]*)', text)
print(json.dumps(found))
"""


def pages_of(data):
    done = subprocess.run(
        [sys.executable, "-c", PAGES],
        cwd=ROOT,
        env=clean_env(
            DATA_DIR=str(data), DJANGO_SETTINGS_MODULE="maker.settings", LOG_LEVEL="ERROR"
        ),
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.mark.slow
def test_moved_to_another_computer_every_row_and_every_page_is_the_same(tmp_path):
    here, there = tmp_path / "here", tmp_path / "there"
    done = manage(here, "prepare", "--with-demo")
    assert done.returncode == 0, done.stderr
    archive = answer_of(manage(here, "backup", str(tmp_path / "stick.zip")))["file"]
    assert answer_of(manage(there, "restore", archive))["replaced_kept_in"] is None
    rows = rows_of(there / "pleat.sqlite3")
    assert rows == rows_of(here / "pleat.sqlite3")
    assert len(rows["catalogue_stockentry"]) > 50
    assert (there / "pleat.sqlite3").stat().st_mode & 0o777 == 0o600
    pages = pages_of(there)
    assert len(pages) > 100
    assert pages == pages_of(here)
    # and on she goes: the demo is not loaded on top
    done = manage(there, "prepare", "--with-demo")
    assert done.returncode == 0, done.stderr
    assert "Loading" not in done.stdout
    assert Path(archive).exists()
