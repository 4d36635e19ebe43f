"""Tells what Python's zoneinfo, with the rules of PyPI's tzdata, makes of wall-clock times.

    wall_clock.py version                 the release of the rules, such as 2026f
    wall_clock.py around ZONE...          for every transition of the zones from 2024 to 2030, each ten
                                          minutes of wall clock around it: zone, wall clock, and the
                                          instant in seconds: the first of two, or the first after a gap
    wall_clock.py offsets FROM TO         for every zone, its offset at FROM and at each transition
                                          until TO (years): zone, instant, offset, in seconds
"""

import datetime as dt
import sys
import zoneinfo

import tzdata

# The rules of PyPI's package, never those of the machine.
zoneinfo.reset_tzpath(to=[])

UTC = dt.timezone.utc
STEP = dt.timedelta(minutes=10)
AROUND = dt.timedelta(hours=4)


def instant(year):
    return int(dt.datetime(year, 1, 1, tzinfo=UTC).timestamp())


def offset(zone, at):
    return int(dt.datetime.fromtimestamp(at, zone).utcoffset().total_seconds())


def transitions(zone, begin, end):
    """The instants at which the offset changes, found by halving; no zone changes twice in six hours."""
    six_hours = 6 * 3600
    for at in range(begin, end, six_hours):
        low, high = at, at + six_hours
        if offset(zone, low) == offset(zone, high):
            continue
        while high - low > 1:
            middle = (low + high) // 2
            if offset(zone, middle) == offset(zone, low):
                low = middle
            else:
                high = middle
        yield high


def happens_at(zone, wall, changes):
    """When a wall-clock time happens: R25, in terms of PEP 495."""
    first = wall.replace(tzinfo=zone, fold=0).astimezone(UTC)
    if first.astimezone(zone).replace(tzinfo=None) == wall:
        return int(first.timestamp())
    # Skipped: the clock jumps over it at one of the changes.
    for change in changes:
        before = dt.datetime.fromtimestamp(change - 1, zone).replace(tzinfo=None)
        after = dt.datetime.fromtimestamp(change, zone).replace(tzinfo=None)
        if before < wall < after:
            return change
    raise AssertionError(f"{zone} has no {wall}, and no gap there")


def around(names):
    for name in names:
        zone = zoneinfo.ZoneInfo(name)
        changes = list(transitions(zone, instant(2024), instant(2031)))
        walls = set()
        for change in changes:
            for side in (change - 1, change):
                wall = dt.datetime.fromtimestamp(side, zone).replace(tzinfo=None, second=0)
                wall -= dt.timedelta(minutes=wall.minute % 10)
                first, last = wall - AROUND, wall + AROUND
                while first <= last:
                    walls.add(first)
                    first += STEP
        for wall in sorted(walls):
            print(name, wall.isoformat(), happens_at(zone, wall, changes))


def offsets(begin, end):
    for name in sorted(zoneinfo.available_timezones()):
        zone = zoneinfo.ZoneInfo(name)
        print(name, begin, offset(zone, begin))
        for change in transitions(zone, begin, end):
            print(name, change, offset(zone, change))


match sys.argv[1:]:
    case ["version"]:
        print(tzdata.IANA_VERSION)
    case ["around", *names]:
        around(names)
    case ["offsets", begin, end]:
        offsets(instant(int(begin)), instant(int(end)))
    case _:
        sys.exit(__doc__)
