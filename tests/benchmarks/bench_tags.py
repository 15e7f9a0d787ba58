"""Price tags as one PDF, beside the same PDF with a single tag."""

from collections.abc import Iterable

from pricing.calc.papers.labels import COMMON_SHEETS
from pricing.price_tags.services import Tag, print_tags
from tests.benchmarks import Row, measured


def run() -> Iterable[Row]:
    """Measure 100 and 500 tags of ten designs, with and without a QR code."""
    geometry = COMMON_SHEETS["a4-24"][1]
    one = [Tag(name="Bag", price="€9.50", count=1)]
    for count, qr in ((100, True), (500, True), (500, False)):
        tags = [
            Tag(
                name=f"Favour bag {number}",
                price="€9.50",
                count=count // 10,
                code=f"FB-{number}",
                care="Keep dry",
                contact="Marlow Paperworks · marlow.example",
                qr=f"https://marlow.example/{number}" if qr else "",
            )
            for number in range(10)
        ]

        def make(tags: list[Tag] = tags) -> bytes:
            return print_tags(tags=tags, geometry=geometry)

        yield measured(
            f"{count} tags{', QR' if qr else ''}",
            make,
            lambda: print_tags(tags=one, geometry=geometry),
            repeats=3,
            warm_up=1,
            note=f"{len(make()) // 1024} KiB",
            at_most=3 if count == 500 else None,
        )
