"""What a paper for customers cannot say yet because the settings lack it."""

from dataclasses import dataclass

from maker.workshop.models import Workshop

# where an account has an IBAN for sure; elsewhere an invoice says in its own way where to pay
WITH_IBAN = ("EUR",)


@dataclass(frozen=True, slots=True)
class Lack:
    """Something missing, and the page of the settings where it is entered."""

    text: str
    section: str
    view: str


def lacks_of(workshop: Workshop, *, asks_for_money: bool = False) -> list[Lack]:
    """Return what a customer would look for in vain on a paper. Needs no query."""
    contact = ("Name and contact", "maker:workshop_settings")
    found = []
    if not workshop.address:
        found.append(Lack("The PDF doesn't show your address yet.", *contact))
    if not (workshop.email or workshop.phone or workshop.website):
        found.append(Lack("The PDF doesn't show how to reach you yet.", *contact))
    if asks_for_money and not workshop.iban and workshop.currency in WITH_IBAN:
        account = ("Bank and invoices", "maker:workshop_invoices")
        found.append(Lack("The PDF doesn't say where to pay yet.", *account))
    return found
