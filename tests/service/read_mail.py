"""Tells as JSON how Python's own mail package reads a mail from standard input, links and all."""

import email
import email.policy
import html.parser
import json
import sys
import urllib.parse

mail = email.message_from_bytes(sys.stdin.buffer.read(), policy=email.policy.default)


class Links(html.parser.HTMLParser):
    def __init__(self):
        super().__init__()
        self.found = []

    def handle_starttag(self, tag, attributes):
        self.found += [value for name, value in attributes if tag == "a" and name == "href"]


def tree(part):
    kind = part.get_content_type()
    return f"{kind}[{' '.join(tree(p) for p in part.iter_parts())}]" if part.is_multipart() else kind


def defects(part):
    found = [repr(d) for d in part.defects]
    for name, value in part.items():
        found += [f"{name}: {d!r}" for d in getattr(value, "defects", ())]
    if part.is_multipart():
        found += [d for p in part.iter_parts() for d in defects(p)]
    else:
        part.get_content()
        found += [repr(d) for d in part.defects]
    return sorted(set(found))


def link(href):
    """RFC 6068: a plus sign is itself, everything else is percent-encoded UTF-8."""
    parts = urllib.parse.urlsplit(href)
    fields = dict(pair.split("=", 1) for pair in parts.query.split("&"))
    strict = {"errors": "strict"}
    return {
        "scheme": parts.scheme,
        "to": urllib.parse.unquote(parts.path, **strict),
        **{name: urllib.parse.unquote(value, **strict) for name, value in fields.items()},
        # What a program makes of it that takes a plus sign for a space.
        "as_form": dict(urllib.parse.parse_qsl(parts.query, keep_blank_values=True)),
    }


links = Links()
links.feed(mail.get_body(("html",)).get_content())
print(
    json.dumps(
        {
            "tree": tree(mail),
            "defects": defects(mail),
            "headers": {name: mail.get_all(name) for name in set(map(str.title, mail.keys()))},
            "reply_to": [a.addr_spec for a in mail["Reply-To"].addresses],
            "to": [a.addr_spec for a in mail["To"].addresses],
            "date": mail["Date"].datetime.timestamp(),
            "text": mail.get_body(("plain",)).get_content(),
            "links": [link(href) for href in links.found],
        }
    )
)
