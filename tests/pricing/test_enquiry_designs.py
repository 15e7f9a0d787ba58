"""An enquiry of the demo: what is to answer, designs that fit contents and budget, the file."""

import pytest

from maker.calc.strict_json import WrongJson
from pricing.enquiries.inputs import suggestions_for
from pricing.enquiries.models import Enquiry
from pricing.enquiries.services import quote_enquiry
from pricing.enquiries.views import usual_channel
from pricing.home.due import due_now
from pricing.quotes.inputs import work_out
from pricing.quotes.models import Quote
from pricing.workshop_file.services import export_workshop, import_workshop
from tests.factories import today


@pytest.fixture
def bags(demo):
    """The enquiry of the demo that is to be answered."""
    return Enquiry.objects.of(demo).open().with_people().exclude(source=Enquiry.Source.FAIR).get()


def test_the_demo_has_one_to_answer_and_home_says_so(demo, bags):
    lines = [due for due in due_now(demo, today()) if due.action == "Answer enquiry"]
    # beside it one that was taken at a fair
    assert f"Enquiry from {bags.customer}" in [due.text for due in lines]
    assert len(lines) == Enquiry.objects.of(demo).open().count() == 2
    assert bags.wanted == (120, 100, 150)


def test_designs_are_found_by_contents_and_budget(demo, bags):
    suggested = suggestions_for(bags, usual_channel(demo))
    found = {each.version.design.name: each for each in suggested.suggestions}
    meadow, harbour = found["Meadow gift bag"], found["Harbour treat bag"]
    # 80 x 20 x 120 mm goes into 90 x 45 x 140, not into 60 x 30 x 110: 80 + 2 against 60
    assert meadow.too_small_mm == 0
    assert harbour.too_small_mm == 22
    assert not harbour.does
    # as it is it costs more than the budget; without something it does not
    assert meadow.usual.price_each > bags.budget_each >= meadow.way.price_each
    assert meadow.way.changes
    assert meadow.way.words == "with handle: ribbon handles"
    assert any("540 g" in text for text in meadow.warnings)  # three times 180 g
    # sorted: what does comes first
    does = [each.does for each in suggested.suggestions]
    assert does == sorted(does, reverse=True)
    # its bead is a small part, but as it is it has none
    assert found["Pillow favour"].warnings == ()


def test_a_suggested_price_is_that_of_the_quote_it_makes(demo, bags):
    suggested = suggestions_for(bags, usual_channel(demo))
    best = next(each for each in suggested.suggestions if each.does)
    quote = quote_enquiry(
        enquiry=bags,
        today=today(),
        channel=usual_channel(demo),
        version=best.version,
        choices=best.choices,
    )
    worked = work_out(Quote.objects.with_people().get(pk=quote.pk))
    assert worked.price.lines[0].price_each == best.way.price_each
    assert quote.needed_on == bags.needed_on
    # a line for each colour that was asked for
    assert [line.quantity for line in quote.lines.order_by("pk")] == [80, 40]
    assert "100 or 150" in quote.own_notes


def test_the_number_of_queries_stays(demo, bags, django_assert_max_num_queries):
    channel = usual_channel(demo)
    with django_assert_max_num_queries(35):
        suggestions_for(bags, channel)


def test_a_workshop_file_keeps_them(demo, bags):
    document = export_workshop(demo)
    copied = import_workshop(document, name="Copy")
    assert export_workshop(copied)["enquiries"] == document["enquiries"]
    document["enquiries"][0]["quote"] = next(q["key"] for q in document["quotes"] if "key" in q)
    with pytest.raises(WrongJson, match="open enquiry"):
        import_workshop(document, name="Wrong")
