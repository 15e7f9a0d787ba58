"""What is asked for designs, told by who knows it; light, as it is loaded at each start."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from catalogue.designs.models import Design
from maker.workshop.models import Workshop


@dataclass(frozen=True, slots=True)
class AskedFor:
    """What is asked for a design, as it was when the price was kept; in words."""

    price: str
    where: str
    lowest: str
    per_hour: str
    is_below: bool = False


# who knows what is asked for designs adds a function here when the program starts
ASKED_FOR: list[Callable[[Workshop, Sequence[Design]], Mapping[int, AskedFor]]] = []
