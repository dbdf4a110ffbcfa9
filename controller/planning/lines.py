"""Lines of a page of plain text, each part under its name.

Responsible for where a line breaks; not for what it says.
"""

import re
import textwrap

WIDTH = 78
INDENT = 12
FIXED = "\u00a0"  # a space at which no line is broken: between a number and its unit
_UNIT = re.compile(r"(?<=\d) (?=(?:g|kg|kWh|W|V|A|K|h|min|s|m|%|x|°[CF])(?![a-z]))")


def wrapped(sentence: str, begin: str = "") -> list[str]:
    """In lines, a number and its unit never apart, nor a long path that is to be copied."""
    lines = textwrap.wrap(
        _UNIT.sub(FIXED, sentence),
        WIDTH,
        initial_indent=begin,
        subsequent_indent=" " * len(begin),
        break_on_hyphens=False,
        break_long_words=False,
    )
    return [line.replace(FIXED, " ") for line in lines]
