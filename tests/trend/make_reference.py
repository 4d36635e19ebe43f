#!/usr/bin/env python3
"""Writes reference.json: what other people's programs say about fade times and trends.

    python3 -m venv venv && venv/bin/pip install scipy==1.17.1 pymannkendall==1.4.3
    venv/bin/python make_reference.py > reference.json

Lines: scipy.stats.theilslopes (slope and intercept; the intercept is median y - slope * median x).
Trends without ties: scipy.stats.kendalltau(method="exact", alternative="greater").
Trends with ties: S of pymannkendall.original_test; the exact p by counting all orders (n <= 8).
The same seed gives the same file.
"""

import itertools
import json
import random
import sys

import pymannkendall
import scipy
from scipy.stats import kendalltau, theilslopes

LINES = 120
TIE_FREE = 120
TIED = 80


def s_of(values):
    pairs = itertools.combinations(values, 2)
    return sum((late > early) - (late < early) for early, late in pairs)


def line(rng):
    n = rng.randint(5, 10)
    steps = sorted(rng.sample(range(10, 240, 5), rng.randint(2, 4)))
    sat = sorted(rng.choice(steps) for _ in range(n))
    if len(set(sat)) < 2:
        sat[0], sat[-1] = steps[0], steps[-1]
    rate = rng.choice([0.0, 0.05, 0.1, 0.2, -0.05])
    fade = [max(0, round(rate * x + rng.choice([0, 0, 2, 5, 9]))) for x in sat]
    at = rng.choice([steps[-1] + 15, steps[-1] * 2, steps[0]])
    fit = theilslopes(fade, sat)
    slope, intercept = float(fit.slope), float(fit.intercept)
    return {"sat": sat, "fade": fade, "at": at, "expected": intercept + slope * at}


def tie_free(rng):
    n = rng.randint(3, 14)
    values = rng.sample(range(0, 60), n)
    if rng.random() < 0.6:
        # Nearly sorted, so that there are rising ones among them.
        values.sort()
        for _ in range(rng.randint(0, 5)):
            i, j = rng.randrange(n), rng.randrange(n)
            values[i], values[j] = values[j], values[i]
    test = kendalltau(range(n), values, method="exact", alternative="greater")
    s = int(pymannkendall.original_test(values).s)
    assert s == s_of(values)
    return {"values": values, "s": s, "p": float(test.pvalue)}


def tied(rng):
    n = rng.randint(3, 8)
    values = [rng.choice([0, 0, 5, 10, 10, 12, 15]) for _ in range(n)]
    if rng.random() < 0.6:
        values.sort()
    s = int(pymannkendall.original_test(values).s) if len(set(values)) > 1 else s_of(values)
    assert s == s_of(values)
    orders = [s_of(order) for order in itertools.permutations(values)]
    tail = sum(other >= s for other in orders)
    return {"values": values, "s": s, "tail": tail, "orders": len(orders)}


def main():
    rng = random.Random(20260306)
    made_with = {
        "scipy": scipy.__version__,
        "pymannkendall": pymannkendall.__version__,
        "python": ".".join(map(str, sys.version_info[:2])),
    }
    sets = {
        "lines": [line(rng) for _ in range(LINES)],
        "tie_free": [tie_free(rng) for _ in range(TIE_FREE)],
        "tied": [tied(rng) for _ in range(TIED)],
    }
    print("{")
    print(f' "made_with": {json.dumps(made_with)},')
    for last, (name, series) in zip([False, False, True], sets.items()):
        print(f' "{name}": [')
        print(",\n".join("  " + json.dumps(one) for one in series))
        print(" ]" if last else " ],")
    print("}")


if __name__ == "__main__":
    main()
