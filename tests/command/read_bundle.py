"""Validates an HL7 FHIR bundle from standard input with independent models of FHIR R4B.

Every resource that the bundle uses reads the same in R4 and in R4B. Prints the resources by kind.
"""

import json
import sys
import uuid

from fhir.resources.R4B.bundle import Bundle

raw = json.load(sys.stdin)
bundle = Bundle.model_validate(raw)
# What the models read is what was written: nothing was dropped.
assert json.loads(bundle.model_dump_json()) == raw, "the models read something else"

urls = [entry["fullUrl"] for entry in raw["entry"]]
assert len(urls) == len(set(urls)), "two resources have one address"
for entry in raw["entry"]:
    assert entry["fullUrl"] == "urn:uuid:" + str(uuid.UUID(entry["resource"]["id"]))


def references(value):
    if isinstance(value, dict):
        if "reference" in value:
            yield value["reference"]
        for inner in value.values():
            yield from references(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from references(inner)


dangling = [reference for reference in references(raw) if reference not in urls]
assert not dangling, dangling
kinds = {}
for entry in raw["entry"]:
    kinds.setdefault(entry["resource"]["resourceType"], []).append(entry["resource"])
json.dump(kinds, sys.stdout)
