"""The rule of French marks, and what breaks it in a text."""

import re

_KEYS = re.compile(r"(?=(`[^`]+`|(?<![\w.{])[a-z_]+: ?[^\s,;]+))")
_WRONG = re.compile(
    r"[^\u202f][;?!](?=[\s)]|$)|[^\u00a0]:(?=\s|$)|[^\u00a0]»|«(?!\u00a0)|(?<=[\d}]) ?%|(?<!\w)'\w|[\"“”]"
)


def against_the_rule(text: str, english: str = "") -> list[str]:
    """Marks without their spaces, and quotes of other languages.

    A no-break space stands before a colon, a percent sign and within quotes, a narrow one before ; ? and ! (usage of French
    printers, from memory). Keys of the design with their values, as the English text has them, stay as the file wants them.
    """
    for code in sorted(_KEYS.findall(english), key=len, reverse=True):
        text = text.replace(code, "")
    return _WRONG.findall(text)
