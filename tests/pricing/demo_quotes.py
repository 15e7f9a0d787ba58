"""The customers and quotes of the demo, as they came about: every figure is the services' own.

`test_demo_quotes.py` holds the demo's files to it; when a cost of the demo moves, it writes them.
"""

import datetime
from decimal import Decimal
from typing import Any

from catalogue.recipes.models import DesignVersion
from maker.accounts.models import User
from maker.workshop.models import Workshop
from pricing.channels.models import Channel
from pricing.customers.models import Customer
from pricing.orders.invoicing import issue_invoice
from pricing.orders.services import accept
from pricing.quotes.delivering import DropInput
from pricing.quotes.models import Quote
from pricing.quotes.sending import decline_quote, revise_quote, send_quote
from pricing.quotes.services import (
    ExtraInput,
    Head,
    QuoteLineInput,
    add_line,
    change_line,
    new_quote,
    save_delivery,
    save_extras,
    save_quote,
)

# the newest day of the demo's other parts; days below count from it
NEWEST = datetime.date(2026, 11, 21)


def day(number: int) -> datetime.date:
    """A day counted from the newest."""
    return NEWEST + datetime.timedelta(days=number)


CUSTOMERS = {
    "bray": {
        "name": "Orla Bray",
        "email": "orla.bray@example.test",
        "phone": "0555 0121",
        "address": "3 Mill Lane\nTamsel Bridge",
        "notes": "Met at the spring fair. Likes sage and ivory.",
    },
    "gull": {
        "name": "The Gull and Kettle",
        "contact": "Wyn Maddock",
        "email": "wyn@gullandkettle.example",
        "phone": "0555 0148",
        "address": "Harbour Row 12\nSaltmere",
        "notes": "Tea room. Orders before each season. Pays by bank transfer.",
    },
    "fennel": {
        "name": "Fennel & Daughters Soaps",
        "contact": "Ada Fennel",
        "email": "ada@fennelsoaps.example",
        "phone": "0555 0163",
        "address": "Unit 4, Old Tannery\nTamsel Bridge",
        "notes": "Resells. Sleeves must fit the 80 mm bar.",
    },
    "hollin": {
        "name": "Hollin House School",
        "contact": "Mr Ferris, office",
        "email": "office@hollinhouse.example",
        "phone": "0555 0109",
        "address": "Hollin Hill\nUpper Tamsel",
        "notes": "Summer and winter fairs. Asks for small-parts advice in writing.",
    },
    "pask": {
        "name": "Juno and Theo Pask",
        "email": "pask@example.test",
        "address": "18 Chandler Street\nSaltmere",
        "notes": "Wedding in spring.",
    },
    "larch": {
        "name": "Larch Street Bakery",
        "contact": "Benno",
        "email": "benno@larchstreet.example",
        "phone": "0555 0130",
        "address": "Larch Street 1\nTamsel Bridge",
        "notes": "Food is always wrapped.",
    },
    "quill": {
        "name": "Quillon Books",
        "contact": "Marta Quillon",
        "email": "marta@quillonbooks.example",
        "phone": "0555 0172",
        "address": "Market Square 9\nSaltmere",
    },
    "idris": {
        "name": "Idris Okoro-Lund",
        "email": "idris@example.test",
        "phone": "0555 0155",
        "notes": "Collects at the door.",
    },
    "tam": {
        "name": "Tamsel Choir",
        "contact": "Hester, treasurer",
        "email": "treasurer@tamselchoir.example",
        "address": "Church Walk\nTamsel Bridge",
        "notes": "The committee decides on first Mondays.",
    },
    "wick": {
        "name": "Wick & Wax candles",
        "contact": "Sol",
        "email": "sol@wickandwax.example",
        "address": "Saltmere",
        "notes": "Closed the shop in spring.",
        "retired_on": day(-120),
    },
}
CHILDREN = "Ada Bram Cleo Dov Elspeth Finn Greta Hugo Ines Jory"
GUESTS = (
    "Alba Bastian Ciara Dimitri Edda Fergus Gwen Hamish Isolde Jasper Kerensa Leif Morwen Nils "
    "Oona Piet Quentin Rhian Soren Tilda Ulla Viggo Wenna Xanthe Yorick Zelda Aurin Bettany "
    "Corin Delphi"
)


class Scene:
    """One workshop whose quotes are written in the order of the calendar."""

    def __init__(self, workshop: Workshop, by: User) -> None:
        self.workshop, self.by = workshop, by
        channels = {row.name: row for row in Channel.objects.of(workshop)}
        self.door, self.shops = channels["Direct orders"], channels["Shops that resell"]
        self.customers = {
            key: Customer.objects.create(workshop=workshop, **fields)
            for key, fields in CUSTOMERS.items()
        }

    def line(self, design: str, quantity: int, way: str, **fields: Any) -> QuoteLineInput:
        """A line of the newest version."""
        versions = DesignVersion.objects.of(self.workshop).filter(design__name=design)
        version = versions.order_by("-number")[0]
        return QuoteLineInput(
            version=version,
            quantity=quantity,
            colourway=version.colourways.get(name=way),
            choices=fields.pop("choices", {}),
            names="\n".join(fields.pop("names", "").split()),
            **fields,
        )

    def draft(
        self,
        customer: str,
        title: str,
        on: int,
        *lines: QuoteLineInput,
        valid: int = 21,
        **head: Any,
    ) -> Quote:
        """A draft with its lines."""
        channel = head.pop("channel", self.door)
        needed = head.pop("needed", None)
        quote = new_quote(
            workshop=self.workshop, customer=self.customers[customer], today=day(on), title=title
        )
        save_quote(
            quote=quote,
            head=Head(
                customer=self.customers[customer],
                channel=channel,
                title=title,
                valid_until=day(on + valid),
                needed_on=None if needed is None else day(needed),
                terms=self.workshop.terms,
                **head,
            ),
            edit_number=quote.edit_number,
        )
        for line in lines:
            quote.refresh_from_db()
            add_line(quote=quote, line=line, edit_number=quote.edit_number)
        self.began(quote, on)
        return quote

    def began(self, quote: Quote, on: int) -> None:
        """Say that the quote was begun in the evening of a day."""
        evening = datetime.datetime.combine(day(on), datetime.time(18, 5), datetime.UTC)
        Quote.objects.filter(pk=quote.pk).update(created_at=evening)

    def send(self, quote: Quote, on: int) -> Quote:
        """Send it on a day."""
        fresh = Quote.objects.with_people().get(pk=quote.pk)
        return send_quote(quote=fresh, by=self.by, today=day(on))


def make_quotes(workshop: Workshop, by: User) -> None:
    """Write, send and answer every quote of the demo in a workshop without any."""
    scene = Scene(workshop, by)
    _answered(scene)
    _revised(scene)
    _waiting(scene)
    scene.draft(
        "idris", "Drawer boxes", -2,
        scene.line("Drawer box", 12, "Kraft", choices={"fill": "shred"}),
        own_notes="Ask which size the cups are before sending.",
    )  # fmt: skip
    lanterns = scene.draft(
        "gull", "Lantern boxes for the window", 0,
        scene.line("Winter lantern box", 24, "Winterberry", other_quantities="18, 36"),
        scene.line("Gift tag set", 24, "Winterberry", price_asked=Decimal(4)),
        needed=30,
    )  # fmt: skip
    _beside_lines(lanterns)


def _beside_lines(quote: Quote) -> None:
    """Give a draft a discount, a charge, and two places it is taken to by its maker."""
    fresh = Quote.objects.with_people().get(pk=quote.pk)
    extras = [
        ExtraInput("discount", "third order this year", share=Decimal("0.03")),
        ExtraInput("charge", "Gift notes written by hand", amount=Decimal(9)),
    ]
    held = save_extras(quote=fresh, extras=extras, edit_number=fresh.edit_number)
    save_delivery(
        quote=fresh,
        drops=[
            DropInput("Harbour Row 12\nSaltmere", 16, minutes=45, distance=Decimal(18)),
            DropInput("Station kiosk\nTamsel Bridge", 8, minutes=10, distance=Decimal(3)),
        ],
        distance_cost=Decimal("0.35"),
        margin=None,
        edit_number=held.edit_number,
    )


def _answered(scene: Scene) -> None:
    """Two accepted, one declined, one that ran out without an answer."""
    wedges = scene.draft(
        "larch", "Cake wedges for the summer regatta", -168,
        scene.line("Cake wedge favour", 120, "Kraft"),
        needed=-130, intro="Thank you for asking again. The same wedge as last year, in kraft.",
    )  # fmt: skip
    order = accept(quote=scene.send(wedges, -167), who="Benno", on=day(-160), today=day(-160))
    issue_invoice(delivery=order.deliveries.get(), on=day(-131), today=day(-131))
    bags = scene.draft(
        "quill", "Bags for the winter reading week", -75,
        scene.line(
            "Meadow gift bag", 60, "Winterberry", choices={"handle": "ribbon", "name": "no"}
        ),
        scene.line("Gift tag set", 60, "Winterberry"),
        needed=-30, intro="Bags with a ribbon handle, and a set of tags to match.",
        own_notes="Compared us with printed paper bags.",
    )  # fmt: skip
    decline_quote(
        quote=scene.send(bags, -74),
        reason=Quote.Reason.PRICE,
        note="Printed paper bags cost half as much.",
        on=day(-62),
        today=day(-62),
    )
    lanterns = scene.draft(
        "tam", "Candle boxes for the carol evening", -58,
        scene.line("Winter lantern box", 40, "Midnight"),
        needed=-5, intro="For the choir's carol evening.",
    )  # fmt: skip
    scene.send(lanterns, -57)
    treats = scene.draft(
        "hollin", "Treat bags for the winter fair", -44,
        scene.line(
            "Harbour treat bag", 150, "Winterberry",
            description="Without printed names; the tutors write them on.",
        ),
        needed=10,
    )  # fmt: skip
    accept(quote=scene.send(treats, -43), who="Mr Ferris", on=day(-36), today=day(-36))


def _revised(scene: Scene) -> None:
    """One that was replaced, and its revision with more pieces and another option."""
    first = scene.draft(
        "fennel", "Sleeves for the winter soaps", -30,
        scene.line("Soap sleeve", 200, "Plum", choices={"window": "no"}),
        channel=scene.shops, valid=28, needed=24,
        intro="Two hundred sleeves for the 80 mm bar.",
    )  # fmt: skip
    revision = revise_quote(quote=scene.send(first, -29), today=day(-16))
    scene.began(revision, -16)
    save_quote(
        quote=revision,
        head=Head(
            customer=first.customer,
            channel=scene.shops,
            title=first.title,
            valid_until=day(12),
            needed_on=day(24),
            terms=scene.workshop.terms,
            intro="As you asked: with the window, and fifty more.",
            delivery=Decimal("6.80"),
        ),
        edit_number=revision.edit_number,
    )
    revision.refresh_from_db()
    change_line(
        row=revision.lines.get(),
        line=scene.line("Soap sleeve", 250, "Plum", choices={"window": "yes"}),
        edit_number=revision.edit_number,
    )
    scene.send(revision, -15)


def _waiting(scene: Scene) -> None:
    """Three that wait for an answer; two of them run out within the week."""
    favours = scene.draft(
        "pask", "Favours for the wedding", -14,
        scene.line("Pillow favour", 90, "Ivory", choices={"trim": "bead", "name": "no"}),
        scene.line(
            "Lavender envelope", 30, "Ivory tag", choices={"name": "yes"}, names=GUESTS,
            description="One for each guest the evening before.",
        ),
        needed=70, delivery=Decimal("8.50"),
        intro="Ninety favours, and thirty envelopes with names for the evening before.",
    )  # fmt: skip
    scene.send(favours, -14)
    boxes = scene.draft(
        "gull", "Keepsake boxes for the anniversary", -14,
        scene.line(
            "Keepsake box", 25, "Sage and ivory", choices={"closure": "magnet", "name": "no"}
        ),
        needed=40, intro="Magnet boxes for the tea room's tenth birthday.",
    )  # fmt: skip
    scene.send(boxes, -13)
    christening = scene.draft(
        "bray", "Christening boxes", -6,
        scene.line(
            "Keepsake box", 10, "Plum and ivory", choices={"closure": "lift", "name": "yes"},
            names=CHILDREN,
        ),
        needed=15, is_rush=True, intro="Ten boxes with names, as a rush order.",
    )  # fmt: skip
    scene.send(christening, -5)
