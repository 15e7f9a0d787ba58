"""Check digits of accounts and references, and payment codes, against what is published."""

from decimal import Decimal

import pytest
import segno.helpers
import zxingcpp
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from maker.calc.bank_numbers import (
    BadBankNumber,
    creditor_reference,
    in_fours,
    is_right,
    read_bic,
    read_iban,
)
from pricing.calc.invoicing.payment_code import NoPaymentCode, payment_text

# README of node-iso11649 (github.com/nruotsal/node-iso11649) and iso-11649 (libraries.io/npm)
REFERENCES = {"AB2G5": "RF68AB2G5", "1234512345": "RF451234512345", "TU06FX": "RF96TU06FX"}
# the same, and the IBAN of the sample in Wikipedia, EPC QR code
NUMBERS = {
    "RF18539007547034": True,
    "RF720HYA6": True,
    "RF19GAX8WS5JYOOUJ87": False,
    "BE72000000001616": True,
}
# Wikipedia, EPC QR code, sample
SAMPLE = (
    "BCD\n001\n1\nSCT\nBPOTBEB1\nRed Cross of Belgium\nBE72000000001616\nEUR1\nCHAR\n\n"
    "Urgency fund\nSample EPC QR code"
)


@pytest.mark.parametrize(("raw", "reference"), REFERENCES.items())
def test_references_are_those_published(raw, reference):
    assert creditor_reference(raw) == reference


@pytest.mark.parametrize(("number", "is_so"), NUMBERS.items())
def test_right_and_wrong_numbers_are_told_apart(number, is_so):
    assert is_right(number) is is_so


def test_the_payment_text_is_the_published_sample():
    assert (
        payment_text(
            name="Red Cross of Belgium",
            iban="BE72000000001616",
            bic="BPOTBEB1",
            amount=Decimal(1),
            purpose="CHAR",
            text="Urgency fund",
            info="Sample EPC QR code",
        )
        == SAMPLE
    )


def test_without_a_bic_it_is_what_the_library_writes(tmp_path):
    fields = {"name": "Ada Fenn", "iban": "BE72000000001616", "reference": "RF68AB2G5"}
    path = tmp_path / "code.png"
    segno.helpers.make_epc_qr(**fields, amount=Decimal("309.29")).save(str(path), scale=4)
    (code,) = zxingcpp.read_barcodes(Image.open(path).convert("L"))
    ours = payment_text(**fields, amount=Decimal("309.29"))
    # the library writes its character set as 1 or 2 by what it found in the text
    assert [line for place, line in enumerate(ours.split("\n")) if place != 2] == [
        line for place, line in enumerate(code.text.rstrip("\n").split("\n")) if place != 2
    ]


@given(st.text("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789", min_size=1, max_size=21))
def test_every_reference_made_is_right_and_one_wrong_sign_is_seen(raw):
    made = creditor_reference(raw)
    assert is_right(made)
    for place in range(4, len(made)):
        signs = "0123456789" if made[place].isdigit() else "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
        wrong = signs[(signs.index(made[place]) + 1) % len(signs)]
        assert not is_right(made[:place] + wrong + made[place + 1 :])


def test_an_iban_is_read_with_spaces_and_small_letters():
    assert read_iban(" be72 0000 0000 1616 ") == "BE72000000001616"
    assert in_fours("BE72000000001616") == "BE72 0000 0000 1616"


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("BE72000000001617", "check digits do not fit"),
        ("BE27000000001616", "check digits do not fit"),
        ("", "Enter an IBAN"),
        ("Ada Fenn", "Enter an IBAN"),
        ("BE7²000000001616", "Enter an IBAN"),
        ("RF18539007547034", "Enter an IBAN"),
        ("BE72" + "0" * 60, "Enter an IBAN"),
    ],
)
def test_a_wrong_iban_is_refused(typed, words):
    with pytest.raises(BadBankNumber, match=words):
        read_iban(typed)


@pytest.mark.parametrize("typed", ["BPOTBEB", "BPOTBEB12", "1POTBEB1", "BPOTBEB1XX", "BPOT BE!1"])
def test_a_wrong_bic_is_refused(typed):
    with pytest.raises(BadBankNumber):
        read_bic(typed)
    assert read_bic("bpotbeb1") == "BPOTBEB1"


@pytest.mark.parametrize("amount", ["0", "-1", "0.001", "1000000000"])
def test_an_amount_out_of_range_has_no_code(amount):
    with pytest.raises(NoPaymentCode):
        payment_text(name="Ada", iban="BE72000000001616", amount=Decimal(amount))


def test_a_wrong_iban_has_no_code():
    with pytest.raises(NoPaymentCode):
        payment_text(name="Ada", iban="BE72000000001617", amount=Decimal(1))


def test_lines_cannot_be_smuggled_in():
    text = payment_text(
        name="Ada\nXX00", iban="BE72000000001616", amount=Decimal(1), text="a\nb" + "x" * 200
    )
    assert len(text.split("\n")) == 11
    assert text.split("\n")[5] == "Ada XX00"
    assert len(text.split("\n")[10]) == 140


@pytest.mark.parametrize("text", ["", "-", "é", "A" * 22])
def test_what_cannot_be_a_reference_is_none(text):
    assert creditor_reference(text) == ""
