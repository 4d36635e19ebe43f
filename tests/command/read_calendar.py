"""Reads an iCalendar file from standard input with two outside readers that must agree.

Prints a JSON list of the entries, each with uid, sequence, start, end, status and summary.
"""

import datetime
import json
import sys

import icalendar
import vobject

raw = sys.stdin.buffer.read()
assert b"\r\n" in raw and all(len(line) <= 75 for line in raw.split(b"\r\n")), "lines are too long"


def stamp(value):
    if isinstance(value, datetime.datetime):
        return value.astimezone(datetime.timezone.utc).strftime("%Y-%m-%dT%H:%MZ")
    return value.isoformat()


first = icalendar.Calendar.from_ical(raw)
assert not first.errors, first.errors
assert first["METHOD"] == "PUBLISH" and first["VERSION"] == "2.0" and first["PRODID"]
by_first = []
for event in first.walk("VEVENT"):
    assert not event.errors, event.errors
    assert "DTSTAMP" in event
    # RFC 5546, 3.2.1: what is published names its publisher and invites nobody.
    assert str(event["ORGANIZER"]).startswith("mailto:") and "ATTENDEE" not in event
    by_first.append({
        "uid": str(event["UID"]),
        "sequence": int(event["SEQUENCE"]),
        "start": stamp(event["DTSTART"].dt),
        "end": stamp(event["DTEND"].dt) if "DTEND" in event else None,
        "status": str(event["STATUS"]),
        "summary": str(event["SUMMARY"]),
    })

second = vobject.readOne(raw.decode())
second.validate(raiseException=True)
by_second = [
    {
        "uid": event.uid.value,
        "sequence": int(event.sequence.value),
        "start": stamp(event.dtstart.value),
        "end": stamp(event.dtend.value) if hasattr(event, "dtend") else None,
        "status": event.status.value,
        "summary": event.summary.value,
    }
    for event in getattr(second, "vevent_list", [])
]
assert by_first == by_second, "the two readers disagree"
json.dump(by_first, sys.stdout)
