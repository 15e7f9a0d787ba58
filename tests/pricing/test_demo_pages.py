"""Every page of the site opens for the example workshops, and every quote makes its papers."""

import re
from decimal import Decimal
from io import BytesIO

import pdfplumber
import pytest
from django.test import Client
from django.urls import reverse

from maker.accounts.models import User
from maker.calc.money import format_money
from maker.workshop.models import Workshop
from pricing.quotes.documents import quote_document
from pricing.quotes.models import Quote
from pricing.quotes.printing import customer_pdf, own_pdf
from pricing.workshop_file.demo import DEMO_EMAIL
from tests import factories
from tests.thorough import tries

TODAY = factories.today()
DEMO = "Tamsel Bridge Paperworks"

pytestmark = pytest.mark.django_db


def test_every_quote_makes_both_its_pdfs(demo):
    for quote in Quote.objects.of(demo).with_people():
        document = quote_document(quote, TODAY)
        for make in (customer_pdf, own_pdf):
            with pdfplumber.open(BytesIO(make(document))) as opened:
                text = "\n".join(page.extract_text() for page in opened.pages)
            total = format_money(Decimal(document["public"]["total"]), "EUR", "en_GB")
            assert f"Total {total}" in text
            assert quote.customer.name in text
            assert ("DRAFT" in text) == (quote.state == "draft")
            assert ("replaced by revision 2" in text) == (quote.state == "replaced")


# a link to a page of a workshop
LINK = re.compile(r'href="(/w/[^"#]+)"')


def enough_of(kind):
    """How many of a kind are opened: papers take a second each, what is asked of a page as long."""
    return tries(1 if "pdf" in kind else 2 if "?" in kind else 4, thorough=8)


@pytest.mark.parametrize("name", [DEMO, "Worked case"])
def test_every_page_of_the_site_opens_for_it(demo, name):
    """Follow every link from the first page on; each page of its workshop answers 200."""
    client = Client()
    client.force_login(
        User.objects.get(email=DEMO_EMAIL),
        backend="django.contrib.auth.backends.ModelBackend",
    )
    workshop = Workshop.objects.get(name=name)
    start = reverse("pricing:home", args=[workshop.slug])
    seen, left = set(), [start]
    kinds_seen: dict[str, int] = {}
    while left:
        address = left.pop(0).replace("&amp;", "&")
        # of one kind of page a few are enough: /w/x/materials/7/ is like /w/x/materials/8/, and
        # one form of the library like another (each has tests of its own)
        kind = re.sub(r"\?.*", "?", re.sub(r"\d+", "N", address))
        kind = re.sub(r"/shapes/[a-z_]+/", "/shapes/F/", kind)
        if (
            address in seen
            or kinds_seen.get(kind, 0) >= enough_of(kind)
            or not address.startswith(start)
        ):
            continue
        seen.add(address)
        kinds_seen[kind] = kinds_seen.get(kind, 0) + 1
        answer = client.get(address, follow=True)
        assert answer.status_code == 200, address
        if answer["Content-Type"].startswith("text/html"):
            left += LINK.findall(answer.content.decode())
    assert len(kinds_seen) > 15, sorted(kinds_seen)
