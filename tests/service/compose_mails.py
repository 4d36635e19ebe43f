"""Writes replies in many shapes, composed by Python's own mail package, into a folder: NAME.eml."""

import email.charset
import email.policy
import pathlib
import sys
from email.message import EmailMessage
from email.mime.application import MIMEApplication
from email.mime.multipart import MIMEMultipart
from email.mime.text import MIMEText

folder = pathlib.Path(sys.argv[1])
PIXEL = bytes.fromhex(
    "89504e470d0a1a0a0000000d49484452000000010000000108060000001f15c4890000000a49444154"
    "789c6360000000020001e221bc330000000049454e44ae426082"
)


def message(subject="Re: Skin checks: A7"):
    mail = EmailMessage(policy=email.policy.SMTP)
    mail["From"] = "Robin Ærø <robin@home.test>"
    mail["To"] = "Checks <checks+token@clinic.test>"
    mail["Subject"] = subject
    mail["Message-ID"] = "<made@home.test>"
    return mail


def write(name, mail):
    (folder / f"{name}.eml").write_bytes(mail if isinstance(mail, bytes) else mail.as_bytes(policy=email.policy.SMTP))


def text(words, **how):
    mail = message()
    mail.set_content(words, **how)
    return mail


QUOTED = "\n\nOn Tue, 24 Nov 2026 at 10:21, Checks <checks@clinic.test> wrote:\n> No marks.\n> All fine\n"

write("plain", text("No marks.\n"))
write("plain-with-quotes", text("Red mark on the left sit bone" + QUOTED))
write("quoted-printable", text("Dark patch – “left sit bone” – still there after 40 minutes, " + "é" * 90 + "\n", cte="quoted-printable"))
write("base64", text("Faded after 10 minutes\n", cte="base64"))
write("eight-bit", text("Red mark on the left heel – 2 cm\n", cte="8bit"))
write("latin-1", text("Red mark on the left sit bone, 2 × 3 cm, Renée\n", charset="iso-8859-1", cte="quoted-printable"))
write("latin-1-bare", text("Marca roja en el isquión izquierdo, mañana también\n", charset="iso-8859-1", cte="8bit"))
write("windows-1252", text("It’s still red on the tailbone after 50 minutes\n", charset="windows-1252", cte="quoted-printable"))

utf16 = MIMEText("", _charset="us-ascii")
del utf16["Content-Type"], utf16["Content-Transfer-Encoding"]
utf16["Content-Type"] = 'text/plain; charset="utf-16"'
utf16["Content-Transfer-Encoding"] = "base64"
utf16["From"] = "robin@home.test"
import base64

utf16.set_payload(base64.encodebytes("Blister on the right buttock\n".encode("utf-16")).decode())
write("utf-16", utf16)

flowed = message()
flowed["MIME-Version"] = "1.0"
flowed["Content-Type"] = 'text/plain; charset="utf-8"; format=flowed; delsp=yes'
flowed.set_payload("Red mark on the le \nft sit bone, st \nill there after 40 min \nutes\n\n-- \nRobin\n")
write("flowed", flowed)

html = message()
html.set_content(
    "<html><head><style>p { color: red }</style></head><body><p>Red mark on the <b>left</b> sit&nbsp;bone</p>"
    "<blockquote>No marks. All fine</blockquote><script>blister()</script></body></html>",
    subtype="html",
)
write("html-only", html)

both = text("Red mark on the left sit bone\n")
both.add_alternative("<p>Red mark on the left sit bone</p>", subtype="html")
write("alternative", both)

nested = text("Redness on the tailbone, still there after 45 minutes\n" + QUOTED)
nested.add_alternative('<p>Redness on the tailbone, still there after 45 minutes</p><img src="cid:a">', subtype="html")
nested.get_payload()[1].add_related(PIXEL, "image", "png", cid="<a>")
nested.add_attachment(PIXEL, maintype="image", subtype="png", filename="skin.png")
nested.add_attachment(b"%PDF-1.4", maintype="application", subtype="pdf", filename="häut.pdf")
write("nested", nested)

attached = text("Red mark on the left heel\n")
attached.add_attachment("No marks. All fine.\n", subtype="plain", filename="yesterday.txt")
write("text-attachment", attached)

forwarded = message()
forwarded.set_content("")
inner = text("No marks, all fine\n")
forwarded.add_attachment(inner)
write("forwarded-as-attachment", forwarded)

photo = message()
photo.add_attachment(PIXEL, maintype="image", subtype="png", filename="skin.png")
write("photo-without-words", photo)

signed = MIMEMultipart("signed", protocol="application/pgp-signature", micalg="pgp-sha256")
signed["From"] = "robin@home.test"
signed.attach(MIMEText("Skin is broken on the left sit bone\n"))
signed.attach(MIMEApplication(b"-----BEGIN PGP SIGNATURE-----\n", "pgp-signature"))
write("signed", signed)

old = email.charset.Charset("utf-8")
old.body_encoding = email.charset.QP
write("old-style", MIMEText("Gone after 20 minutes – all clear now\n", _charset=old))
