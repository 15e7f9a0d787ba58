"""Values that break programs: each kind that is known to, and random ones, the same every time."""

import random

MARK = "hostile7"
# where it comes back as it was sent, a page or drawing takes it for its own
MARKUP = (
    f"<script>{MARK}()</script>",
    f'"><img src=x onerror={MARK}()>',
    f"'><svg onload={MARK}()>",
    f"</textarea><b>{MARK}</b>",
    f"]]><{MARK}/>",
    f"{{{{ {MARK} }}}}{{% now 'Y' %}}",
)
# in the place of a number or a name of an address
PARTS_OF_ADDRESSES = (
    *("0", "-1", "00", "1.0", "1e3", "2147483648", "9223372036854775807", "9223372036854775808"),
    *("9" * 40, "9" * 5000, "%D9%A3", "%C2%BD", "%EF%BC%91", "%00", "1%00", "%FF", "%ED%A0%80"),
    *("..", "../..", "%2e%2e%2f%2e%2e%2f", "..%5c..%5c", "1/../2", "%0d%0aSet-Cookie:%20a=b"),
    *("x" * 3000, "%F0%9F%8E%81", "%E2%80%AEgnp", "-", "_", "%20", "'", "%3Cscript%3E", "None"),
    *("{{7*7}}", "%25s", "%2500", ";", "1;2", "1%3F", "1%23", "nan", "True"),
)
NUMBERS = (
    *("1e999", "-1e999", "NaN", "Infinity", "-inf", "sNaN", "1e-999", "1e9999999999"),
    *("0", "-0", "-1", "0.1" + "0" * 400 + "1", "9" * 40, "9" * 5000, "-" + "9" * 400),
    *(
        "1,5",
        "1.234,5",
        "1 000 000",
        "٣",
        "½",
        "1/0",
        "7 1/0",
        "0x10",
        "1_000",
        "٠٫٥",
        "１２",
        "1e5",
    ),
    *("2147483648", "9223372036854775808", "-9223372036854775809", "0.0000000000000000001"),
)
TEXTS = (
    *(
        "",
        " ",
        "\t\n",
        "\0",
        "a\0b",
        "\x01\x02\x1b[31m",
        "\x7f\x85\u2028\u2029",
        "\ufeff",
        "\ufffe",
    ),
    *(
        "\u202egnp.exe",
        "\u2066x\u2069",
        "\u200b\u200d",
        "é́́́",
        "👩‍👩‍👧‍👦" * 20,
        "🎁",
        "\U0010ffff",
        "ﷺ" * 50,
    ),
    *("\ud800", "ß", "İ", "ﬃ", "ǅ", "x" * 100_000, "ä" * 50_000, "\n" * 100_000, "," * 30_000),
    *(
        "' OR '1'='1",
        "'; DROP TABLE maker_user; --",
        "%00",
        "../../etc/passwd",
        "%",
        "_",
        "\\",
        "`id`",
    ),
    *(
        "=1+1",
        "@SUM(A1)",
        "http://[::1",
        "//example.test",
        "javascript:alert(1)",
        "data:text/html,x",
    ),
    *("None", "null", "true", "[]", "{}", '{"a": 1}', "[" * 2000, "on", "0000-00-00", "9999-12-31"),
    *("2026-02-30", "10000-01-01", "31.12.9999", "99:99", "P1Y", "a@b", "a@" + "b" * 400 + ".test"),
)
BODIES = (
    (b"name=%ff%fe&notes=%c3%28", "application/x-www-form-urlencoded"),
    (b"name=\xe4\xf6", "application/x-www-form-urlencoded; charset=latin-1"),
    ("name=böse".encode("utf-16"), "application/x-www-form-urlencoded; charset=utf-16"),
    (b"name=x", "application/x-www-form-urlencoded; charset=no-such-code"),
    (b'{"name": ["x"]}', "application/json"),
    (b'--b\r\nContent-Disposition: form-data; name="na', "multipart/form-data; boundary=b"),
    (b"x", "multipart/form-data"),
    (b"", "text/plain"),
    (b"&" * 10_000, "application/x-www-form-urlencoded"),
    (b"a=1&" * 25_000, "application/x-www-form-urlencoded"),
)
FILES = (
    b"",
    b"\0" * 5000,
    b"Name\n" + b"x" * 100_000,
    "Name;Price\nBöse;1e999\n".encode("utf-16"),
    b"\xef\xbb\xbfName,Price\n=1+1,NaN\n",
    b"PK\x03\x04" + b"\xff" * 500,
    b"%PDF-1.7\n",
    b"[" * 100_000,
    b'{"format": 1e999}',
    b"<?xml version='1.0'?><!DOCTYPE a [<!ENTITY b 'c'>]><a>&b;</a>",
    b"Name\n" + "\n".join(f"{text}" for text in MARKUP).encode(),
)


def nasty(chance: random.Random) -> str | list[str]:
    """Return one value, sometimes several where one is expected."""
    if chance.random() < 0.1:
        return [one_of(chance) for _ in range(chance.randint(2, 4))]
    return one_of(chance)


def one_of(chance: random.Random) -> str:
    """Return one value."""
    kind = chance.random()
    if kind < 0.3:
        return chance.choice(NUMBERS)
    if kind < 0.65:
        return chance.choice(TEXTS)
    if kind < 0.8:
        return chance.choice(MARKUP)
    if kind < 0.9:
        return f"{chance.choice((-1, 1)) * chance.random() * 10 ** chance.randint(-20, 40)}"
    return "".join(chr(chance.randrange(0xD800)) for _ in range(chance.randint(1, 200)))
