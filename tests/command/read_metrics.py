"""Reads Prometheus text from standard input with Prometheus's own parser.

Prints a JSON object of each sample's name and check with its value.
"""

import json
import sys

from prometheus_client.parser import text_string_to_metric_families

families = list(text_string_to_metric_families(sys.stdin.read()))
assert all(family.type == "gauge" and family.documentation for family in families)
samples = [sample for family in families for sample in family.samples]
json.dump({f"{s.name} {s.labels['check']}": s.value for s in samples}, sys.stdout)
