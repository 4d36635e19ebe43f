"""Tells how Python's own mail parser understands a mail, as JSON: an outside check of what we compose."""

import email
import email.policy
import json
import sys


def tree(part):
    kind = part.get_content_type()
    if part.is_multipart():
        return f"{kind}[{' '.join(tree(p) for p in part.iter_parts())}]"
    return kind


def defects(part):
    found = [repr(d) for d in part.defects]
    for name, value in part.items():
        found += [f"{name}: {d!r}" for d in getattr(value, "defects", ())]
    if part.is_multipart():
        for inner in part.iter_parts():
            found += defects(inner)
    else:
        part.get_content()
        found += [repr(d) for d in part.defects]
    return found


mail = email.message_from_bytes(sys.stdin.buffer.read(), policy=email.policy.default)


def person(name):
    return [[a.display_name, a.addr_spec] for a in mail[name].addresses] if mail[name] else []


leaves = [p for p in mail.walk() if not p.is_multipart()]
print(
    json.dumps(
        {
            "tree": tree(mail),
            "defects": sorted(set(defects(mail))),
            "from": person("From"),
            "to": person("To"),
            "reply_to": person("Reply-To"),
            "subject": mail["Subject"],
            "date": mail["Date"].datetime.isoformat(),
            "message_id": mail["Message-ID"],
            "references": mail["References"],
            "auto_submitted": mail["Auto-Submitted"],
            "text": mail.get_body(("plain",)).get_content(),
            "html": (lambda b: b and b.get_content())(mail.get_body(("html",))),
            "content_ids": [p["Content-ID"] for p in leaves if p["Content-ID"]],
            "methods": [p.get_param("method") for p in leaves if p.get_param("method")],
            "files": [[p.get_filename(), len(p.get_payload(decode=True))] for p in leaves if p.get_filename()],
            "image_bytes": [len(p.get_content()) for p in leaves if p.get_content_type() == "image/png"],
        }
    )
)
