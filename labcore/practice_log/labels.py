"""Labels: what a user calls a player, checked once at the door."""

import unicodedata

from labcore.errors import LabError

MOST_LETTERS = 60
MOST_WORDS_LETTERS = 2000


def player_label(label: str) -> str:
    """The label as it is kept: one spelling, no line breaks, no invisible control signs.

    >>> player_label("  bench   3 ")
    'bench 3'
    """
    plain = " ".join(unicodedata.normalize("NFC", label).split())
    if not plain:
        raise LabError(
            "The take has no player. Make up a label, say “bench 3”; a full name is not needed."
        )
    if len(plain) > MOST_LETTERS:
        raise LabError(
            f"The label has {len(plain)} letters; up to {MOST_LETTERS} are kept. "
            "A nickname will do."
        )
    _check_signs(plain)
    return plain


def free_words(text: str) -> str:
    """A remark as it is kept; line breaks are, control signs are not."""
    plain = unicodedata.normalize("NFC", text).strip()
    if len(plain) > MOST_WORDS_LETTERS:
        raise LabError(
            f"The remark has {len(plain)} letters; up to {MOST_WORDS_LETTERS} are kept. Shorten it."
        )
    _check_signs(plain.replace("\n", " ").replace("\t", " "))
    return plain


def _check_signs(text: str) -> None:
    # Control signs, lone surrogates, and marks that turn the reading direction around.
    odd = [sign for sign in text if unicodedata.category(sign) in ("Cc", "Cs") or sign in _TURNERS]
    if odd:
        raise LabError(
            f"The text holds a sign that cannot be shown (U+{ord(odd[0]):04X}). Type it without."
        )


_TURNERS = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
