"""Photos and PDFs for tests, good and hostile, written by other libraries than the program's."""

import zipfile
from io import BytesIO
from typing import Any

import pikepdf
from PIL import Image


def photo(colour: str = "red", form: str = "JPEG", size: tuple[int, int] = (60, 40)) -> bytes:
    """A picture of one colour, as a phone gives it: with where it was taken."""
    exif = Image.Exif()
    exif[0x010F] = "Finch & Fern cameras"
    exif.get_ifd(0x8825)[2] = (51.0, 30.0, 26.0)
    written = BytesIO()
    Image.new("RGB", size, colour).save(written, form, **({"exif": exif} if form == "JPEG" else {}))
    return written.getvalue()


def pdf(pages: int = 1, change: Any = None, **options: Any) -> bytes:
    """A PDF of empty pages; `change` may put something in before it is written."""
    made = pikepdf.new()
    for _ in range(pages):
        made.add_blank_page()
    if change:
        change(made)
    written = BytesIO()
    made.save(written, deterministic_id="encryption" not in options, **options)
    return written.getvalue()


def with_script_on_opening(made: pikepdf.Pdf) -> None:
    made.Root.OpenAction = pikepdf.Dictionary(S=pikepdf.Name.JavaScript, JS="app.alert(1)")


def with_named_script(made: pikepdf.Pdf) -> None:
    action = made.make_indirect(pikepdf.Dictionary(S=pikepdf.Name.JavaScript, JS="1"))
    names = pikepdf.Dictionary(Names=pikepdf.Array(["one", action]))
    made.Root.Names = pikepdf.Dictionary(JavaScript=made.make_indirect(names))


def with_a_button_that_starts(made: pikepdf.Pdf) -> None:
    action = pikepdf.Dictionary(S=pikepdf.Name.Launch, F="run.exe")
    button = pikepdf.Dictionary(
        Type=pikepdf.Name.Annot, Subtype=pikepdf.Name.Link, Rect=[0, 0, 9, 9], A=action
    )
    made.pages[0].obj.Annots = pikepdf.Array([made.make_indirect(button)])


def with_attached(name: str) -> Any:
    def change(made: pikepdf.Pdf) -> None:
        made.attachments[name] = pikepdf.AttachedFileSpec(made, b"<a/>", filename=name)

    return change


def with_a_program_named_as_data(made: pikepdf.Pdf) -> None:
    with_attached("invoice.xml")(made)
    # the name older readers save it under (ISO 32000-1:2008, table 44)
    made.attachments["invoice.xml"].obj.F = "invoice.exe"


def locked_pdf(password: str) -> bytes:
    """A PDF that asks for a password; with "" only its owner's."""
    return pdf(encryption=pikepdf.Encryption(owner="wren", user=password, R=6))


def zipped() -> bytes:
    written = BytesIO()
    with zipfile.ZipFile(written, "w") as archive:
        archive.writestr("a.txt", "a")
    return written.getvalue()


HOSTILE = {
    "nothing": b"",
    "text": b"just words",
    "a page": b"<html><script>alert(1)</script></html>",
    "a program": b"MZ\x90\x00" + b"\0" * 200,
    "a zip": zipped(),
    "a head alone": b"%PDF-1.7\n",
    "a broken PDF": b"%PDF-1.7\n1 0 obj\n<<>>\nendobj\n%%EOF\n",
    "half a PDF": pdf(3)[:300],
    "a page before a PDF": b"<html>\n" + pdf(),
    "a page behind a PDF": pdf() + b"<html><script>alert(1)</script></html>",
    "a zip behind a PDF": pdf() + zipped(),
    "a script on opening": pdf(change=with_script_on_opening),
    "a script by name": pdf(change=with_named_script),
    "a script packed away": pdf(
        change=with_named_script, object_stream_mode=pikepdf.ObjectStreamMode.generate
    ),
    "a button that starts a program": pdf(change=with_a_button_that_starts),
    "a program in a PDF": pdf(change=with_attached("invoice.exe")),
    "a program named as data": pdf(change=with_a_program_named_as_data),
    "with a password": locked_pdf("robin"),
    "no pages": pdf(0),
    "201 pages": pdf(201),
    "13 MB": pdf() + b"\n" * (12 * 1024 * 1024),
}
