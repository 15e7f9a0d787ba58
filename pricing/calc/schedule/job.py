"""What is laid on dates: blocks of work by delivery, what must come first, work promised before."""

import datetime
from dataclasses import dataclass, replace
from fractions import Fraction

from maker.calc.refusal import Refusal
from pricing.calc.schedule.calendar import WEEKDAYS, CountedDays, WorkCalendar


class NoTimeToWork(Refusal):
    """No weekday has minutes to work in, or a rack holds nothing."""


@dataclass(frozen=True, slots=True)
class Cap:
    """A rack or press that limits how many can be made on a date.

    `share` is the part of a date's room one minute of the block's work takes: with 21 items a date
    and 9 minutes an item 1/189. Blocks with the same `resource` share its room.
    """

    resource: str
    share: Fraction


@dataclass(frozen=True, slots=True)
class Block:
    """Work that may be cut anywhere, in whole minutes.

    `setup_minutes` come first and take no room on a rack. `nights` is what passes after its last
    minute: the next block begins that many dates later, at least one. `after_proof`: it waits for
    the customer's answer to the proof.
    """

    name: str
    minutes: int
    setup_minutes: int = 0
    caps: tuple[Cap, ...] = ()
    nights: int = 1
    after_proof: bool = False

    @property
    def all_minutes(self) -> int:
        """Its work with the set-up."""
        return self.minutes + self.setup_minutes


@dataclass(frozen=True, slots=True)
class Delivery:
    """One chain of blocks, done in order, that leaves together; one without minutes is passed over.

    `due_on` is when it must be with the customer: a date on which the carrier comes, if one does.
    `transit_days` are the carrier's, none if it is collected.
    """

    name: str
    blocks: tuple[Block, ...]
    due_on: datetime.date | None = None
    transit_days: int = 0


@dataclass(frozen=True, slots=True)
class Supply:
    """Something that is short and must be bought; the lead is counted in the supplier's days."""

    name: str
    lead_days: int
    supplier: str = ""
    days: CountedDays = WEEKDAYS


@dataclass(frozen=True, slots=True)
class Job:
    """Everything of one order. `proof_days`: weekdays the customer has for the proof."""

    deliveries: tuple[Delivery, ...]
    supplies: tuple[Supply, ...] = ()
    proof_days: int = 0

    @property
    def minutes(self) -> int:
        """Return the hands-on minutes of all deliveries."""
        return sum(block.all_minutes for each in self.deliveries for block in each.blocks)

    @property
    def needs_proof(self) -> bool:
        """Whether any work waits for a proof."""
        return any(
            block.after_proof and block.all_minutes
            for each in self.deliveries
            for block in each.blocks
        )


@dataclass(frozen=True, slots=True)
class Promise:
    """Work promised before: it may move, but its last minute lies on a date before `due_on`."""

    name: str
    minutes: int
    due_on: datetime.date
    caps: tuple[Cap, ...] = ()


@dataclass(frozen=True, slots=True)
class Bench:
    """How the workshop works: its dates, its carrier's, and how many work days stay empty.

    `buffer_days` are workshop days right before something is handed over.
    """

    calendar: WorkCalendar
    carrier_days: CountedDays
    buffer_days: int = 0
    customer_days: CountedDays = WEEKDAYS


def with_caps_doubled(job: Job) -> Job:
    """Return the job with twice the room on every rack and press."""
    return replace(
        job,
        deliveries=tuple(
            replace(
                delivery,
                blocks=tuple(
                    replace(
                        block, caps=tuple(Cap(cap.resource, cap.share / 2) for cap in block.caps)
                    )
                    for block in delivery.blocks
                ),
            )
            for delivery in job.deliveries
        ),
    )
