"""How the printed examples on how many to take are worked out."""

import math
from decimal import Decimal

from pricing.calc.fairs.demand import chances_of, enough_for
from pricing.calc.fairs.what_to_take import OneMore, exact, sold_of

NOTHING = Decimal(0)


def number(value):
    return Decimal(str(value))


def one_more(gain, loss):
    return OneMore(NOTHING, NOTHING, number(gain), number(loss))


def cost_of(chances, count, given):
    """What being wrong costs: each left over h, each one short p."""
    sold = exact(sold_of(chances, count))
    asked = sum(asked * exact(chance) for asked, chance in chances.items())
    return number(given["h"]) * (count - sold) + number(given["p"]) * (asked - sold)


def c25(given):
    chances = chances_of({int(key): number(value) for key, value in given["pmf"].items()})
    count = enough_for(chances, one_more(given["p"], given["h"]).ratio)
    return {"S": count, "cost": cost_of(chances, count, given)}


def c27(given):
    ratio = one_more(given["price"] - given["cost"], given["cost"] - given["salvage"]).ratio
    chances = chances_of({int(key): value for key, value in given["counts"].items()})
    return {"ratio": exact(ratio), "Q": enough_for(chances, ratio)}


def poisson(mean):
    # beyond ten times the mean a Poisson count has no chance that shows
    return chances_of(
        {
            count: number(math.exp(count * math.log(mean) - mean - math.lgamma(count + 1)))
            for count in range(10 * mean)
        }
    )


def c14(given):
    chances = poisson(given["mu"])
    count = enough_for(chances, one_more(given["p"], given["h"]).ratio)
    return {
        "Q": count,
        "cost": cost_of(chances, count, given),
        "cost_at": cost_of(chances, given["at"], given),
    }


def c29(given):
    return {"cost": cost_of(poisson(given["mu"]), given["S"], given)}


WORKED_BY = {"C14": c14, "C25": c25, "C27": c27, "C29": c29}
