"""The currencies and ways of writing numbers a workshop can choose from."""

import datetime
from functools import cache

from babel import Locale
from babel.core import get_global

# Ways of writing numbers that need nothing but Latin letters and European digits on a page.
LOCALES = (
    "bg_BG", "ca_ES", "cs_CZ", "da_DK", "de_AT", "de_CH", "de_DE", "el_GR", "en_AU", "en_CA",
    "en_GB", "en_IE", "en_IN", "en_NZ", "en_US", "en_ZA", "es_AR", "es_CL", "es_ES", "es_MX",
    "et_EE", "fi_FI", "fr_BE", "fr_CA", "fr_CH", "fr_FR", "hr_HR", "hu_HU", "is_IS", "it_CH",
    "it_IT", "ja_JP", "ko_KR", "lt_LT", "lv_LV", "nb_NO", "nl_BE", "nl_NL", "pl_PL", "pt_BR",
    "pt_PT", "ro_RO", "sk_SK", "sl_SI", "sv_SE", "tr_TR", "uk_UA", "zh_CN",
)  # fmt: skip


@cache
def currencies_in_use(on: datetime.date) -> tuple[tuple[str, str], ...]:
    """Return code and English name of every currency that is legal tender somewhere, by name.

    Codes are those of ISO 4217; where they are tender, from when and until when, is the
    supplemental currency data of the Unicode CLDR as carried by Babel.
    """
    day = (on.year, on.month, on.day)
    codes = {
        code
        for uses in get_global("territory_currencies").values()
        for code, start, end, tender in uses
        if tender and (start is None or start <= day) and (end is None or end >= day)
    }
    names = Locale("en").currencies
    return tuple(sorted(((code, names.get(code, code)) for code in codes), key=lambda one: one[1]))


@cache
def locale_names() -> tuple[tuple[str, str], ...]:
    """Return every offered way of writing numbers with its English name, by name."""
    named = ((code, Locale.parse(code).get_display_name("en") or code) for code in LOCALES)
    return tuple(sorted(named, key=lambda one: one[1]))
