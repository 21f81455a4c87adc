"""States of plants and stakes as people write them."""

from __future__ import annotations

_WORDS = {
    "planted": ("planted", "alive", "living", "live", "ok", "set"),
    "replaced": ("replaced", "replanted"),
    "dead": ("dead", "died"),
    "missing": ("missing", "gone", "absent"),
}
_PHRASES = {
    "planted again": "replaced",
    "not found": "missing",
    "not set": "missing",
    "not looked at": "not looked at",
    "not seen": "not looked at",
    "not surveyed": "not looked at",
    "unseen": "not looked at",
    "skipped": "not looked at",
}
_NO = ("not", "no", "never")


def status_word(text: str) -> str:
    """Give planted, replaced, dead, missing or not looked at for a text that says so; "" for any other.

    >>> status_word("Dead tree"), status_word("not_set"), status_word("not alive"), status_word("replanted")
    ('dead', 'missing', '', 'replaced')
    """
    plain = " ".join(text.lower().replace("_", " ").split()).strip(".,;:()")
    if plain in _PHRASES:
        return _PHRASES[plain]
    words = {word.strip(".,;:()") for word in plain.split()}
    if words & set(_NO):
        return ""  # "not alive" isn't alive
    return next((status for status, known in _WORDS.items() if words & set(known)), "")
