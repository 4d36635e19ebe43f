"""Holds TOML files against JSON Schemas with an outside validator.

usage: schemas.py < [{"name": ..., "schema": ..., "toml": ...}, ...]

Prints one line a file: its name, how many keys were misspelt one after the other, and the keys whose
misspelling the schema let through. Ends with 1 where a file itself is refused.
"""

import copy
import datetime
import json
import sys
import tomllib

import jsonschema


def plain(value):
    """TOML's dates and times as the texts they are written as."""
    if isinstance(value, dict):
        return {key: plain(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [plain(inner) for inner in value]
    if isinstance(value, (datetime.date, datetime.time, datetime.datetime)):
        return value.isoformat()
    return value


def keys(value, path=()):
    """Every key of every table, with the path to its table."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield path, key
            yield from keys(inner, (*path, key))
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from keys(inner, (*path, index))


def is_named(schema, path, data):
    """Whether the keys of the table at a path are names that the clinic chooses."""
    for step in path:
        if "anyOf" in schema:
            schema = next(way for way in schema["anyOf"] if way.get("type") == "object")
        if isinstance(step, int):
            schema = schema["items"]
        else:
            schema = schema.get("properties", {}).get(step, schema.get("additionalProperties"))
    if "anyOf" in schema:
        schema = next(way for way in schema["anyOf"] if way.get("type") == "object")
    return "properties" not in schema


refused = False
for file in json.load(sys.stdin):
    schema, data = file["schema"], plain(tomllib.loads(file["toml"]))
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    for error in validator.iter_errors(data):
        refused = True
        print(file["name"], "refused:", error.json_path, error.message, file=sys.stderr)
    through, count = [], 0
    for path, key in keys(data):
        if is_named(schema, path, data):
            continue
        wrong = copy.deepcopy(data)
        table = wrong
        for step in path:
            table = table[step]
        table[key + "x"] = table.pop(key)
        count += 1
        if validator.is_valid(wrong):
            through.append(".".join(map(str, (*path, key))))
    print(file["name"], count, *through)
sys.exit(refused)
