"""An exact model of small cutting jobs for CP-SAT, written from the rules alone.

Every copy of a piece lies in a strip, every strip in a section, every section on a sheet. Each of
them is named after its first copy, so there are never more than copies. Knows nothing of how plans
are found; only for a handful of copies.
"""

from fractions import Fraction
from math import lcm

from ortools.sat.python import cp_model


def least_cost(job, *, seconds=60.0):
    """Return the least number of sheets (one kind of sheet) or the least cost of all plans.

    Layouts are cut edge to edge in at most `job.rounds` (1 to 3) alternating rounds and pieces are
    then trimmed to size.
    """
    model = _Model(job)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 0
    solver.parameters.max_time_in_seconds = seconds
    status = solver.solve(model.cp)
    if status == cp_model.INFEASIBLE:
        return None
    assert status == cp_model.OPTIMAL, "the exact model ran out of time"
    return Fraction(round(solver.objective_value), model.price_parts)


class _Model:
    def __init__(self, job):
        assert job.rounds in (1, 2, 3)
        self.job, self.cp = job, cp_model.CpModel()
        self.copies = [piece for piece in job.pieces for _ in range(piece.count)]
        lengths = [
            length
            for thing in (*job.sheets, *job.pieces)
            for length in (thing.width, thing.height, getattr(thing, "trim", 0))
        ]
        self.parts = lcm(*(Fraction(length).denominator for length in [*lengths, job.gap]))
        self.price_parts = lcm(*(Fraction(sheet.price).denominator for sheet in job.sheets))
        self.gap = self.whole(job.gap)
        self.longest = max(
            max(self.whole(sheet.width), self.whole(sheet.height)) + self.gap
            for sheet in job.sheets
        )
        self.build()

    def whole(self, length):
        return int(Fraction(length) * self.parts)

    def length(self, name):
        return self.cp.new_int_var(0, self.longest, name)

    def nest(self, name, alone):
        """Say of each copy in which group it lies, named after the group's first copy."""
        count = len(self.copies)
        lies = {}
        for inner in range(count):
            for outer in range(inner + 1):
                if not alone or inner == outer:
                    lies[inner, outer] = self.cp.new_bool_var(f"{name}{inner}in{outer}")
                    if outer != inner:
                        # nothing lies in a group that is not there
                        self.cp.add_implication(lies[inner, outer], lies[outer, outer])
        return lies

    def build(self):
        cp, count = self.cp, range(len(self.copies))
        strips = self.nest("strip", alone=self.job.rounds < 3)
        sections = self.nest("section", alone=self.job.rounds < 2)
        sheets = self.nest("sheet", alone=False)
        for copy in count:
            cp.add_exactly_one(lies for (inner, _), lies in strips.items() if inner == copy)
        for inner_groups, outer_groups in ((strips, sections), (sections, sheets)):
            for group in count:
                cp.add(
                    sum(lies for (inner, _), lies in outer_groups.items() if inner == group)
                    == inner_groups[group, group]
                )
        # first cuts part the width (along x) or the height; all on a sheet go the same way
        first = [[cp.new_bool_var(f"first{level}{at}") for at in count] for level in range(4)]
        for level, lies in enumerate((strips, sections, sheets)):
            for (inner, outer), inside in lies.items():
                cp.add(first[level][inner] == first[level + 1][outer]).only_enforce_if(inside)
        along, across = self.sizes(first[0])
        strip_long = self.fill("strip length", strips, along)
        strip_high = self.cover("strip height", strips, across)
        section_long = self.cover("section length", sections, strip_long)
        section_high = self.fill("section height", sections, strip_high)
        sheet_long = self.fill("sheet length", sheets, section_long)
        sheet_high = self.cover("sheet height", sheets, section_high)
        self.choose_sheets(strips, sections, sheets, first[3], sheet_long, sheet_high)

    def sizes(self, first):
        """Return the size of each copy in the direction of the first cuts, and across."""
        along, across = [], []
        for at, piece in enumerate(self.copies):
            width, height = self.whole(piece.width) + self.gap, self.whole(piece.height) + self.gap
            upright = first[at]
            if piece.may_turn:
                upright = self.cp.new_bool_var(f"upright{at}")
            along.append(height + (width - height) * upright)
            across.append(width + (height - width) * upright)
        return along, across

    def fill(self, name, lies, sizes):
        """What lies in a group lies side by side: its sizes add up."""
        totals = [self.length(f"{name} {at}") for at in range(len(self.copies))]
        for outer, total in enumerate(totals):
            taken = []
            for (inner, group), inside in lies.items():
                if group == outer:
                    share = self.length(f"{name} {inner} in {outer}")
                    self.cp.add(share >= sizes[inner]).only_enforce_if(inside)
                    taken.append(share)
            self.cp.add(sum(taken) <= total)
        return totals

    def cover(self, name, lies, sizes):
        """What lies in a group lies over its whole size in the other direction."""
        totals = [self.length(f"{name} {at}") for at in range(len(self.copies))]
        for (inner, outer), inside in lies.items():
            self.cp.add(totals[outer] >= sizes[inner]).only_enforce_if(inside)
        return totals

    def choose_sheets(self, strips, sections, sheets, first, long, high):
        cp, count = self.cp, range(len(self.copies))
        job = self.job
        one_kind = len(job.sheets) == 1
        cost = 0
        kinds = [
            [cp.new_bool_var(f"sheet{at}is{kind.name}") for kind in job.sheets] for at in count
        ]
        for at in count:
            cp.add(sum(kinds[at]) == sheets[at, at])
            for kind, chosen in zip(job.sheets, kinds[at], strict=True):
                trim = 2 * self.whole(kind.trim)
                width = self.whole(kind.width) - trim + self.gap
                height = self.whole(kind.height) - trim + self.gap
                cp.add(long[at] <= height + (width - height) * first[at]).only_enforce_if(chosen)
                cp.add(high[at] <= width + (height - width) * first[at]).only_enforce_if(chosen)
                price = 1 if one_kind else int(Fraction(kind.price) * self.price_parts)
                cost += price * chosen
        for number, kind in enumerate(job.sheets):
            if kind.available is not None:
                cp.add(sum(kinds[at][number] for at in count) <= kind.available)
            for copy, piece in enumerate(self.copies):
                if piece.sheet not in (None, kind.name):
                    for (_, strip), one in self.lying(strips, copy):
                        for (_, section), two in self.lying(sections, strip):
                            for (_, sheet), three in self.lying(sheets, section):
                                cp.add_bool_or(
                                    one.negated(),
                                    two.negated(),
                                    three.negated(),
                                    kinds[sheet][number].negated(),
                                )
        cp.minimize(cost)
        if one_kind:
            self.price_parts = 1

    @staticmethod
    def lying(lies, inner):
        return [(key, inside) for key, inside in lies.items() if key[0] == inner]
