"""Whether a sentence reads as a stranger must: one sentence, short, and in plain words.

Responsible for that judgement; which words nobody in a kitchen need know is our own choice.
"""

import re

JARGON = re.compile(
    r"\b(tick|ticks|controller|lease|latched|duty|pid|set-?point|driver|bus|connector|checksum|nan|none|thread"
    r"|threads|daemon|process|interlock|sigma|hysteresis|model|estimator|stale|plausible|evidence"
    r"|unsafe_s|hwmon|gpio|socket|monotonic|rss|stdin|config)\b",
    re.IGNORECASE,
)
LONGEST = 130  # signs of one sentence


def faults_of(text: str, *, longest: int = LONGEST) -> list[str]:
    """What is wrong with one sentence."""
    return [
        *(["is empty"] if not text.strip() else []),
        *(["has no full stop"] if not text.endswith(".") else []),
        *(["is more than one sentence"] if re.search(r"[.!?] [A-Z]", text) else []),
        *([f"says {word[0]}"] if (word := JARGON.search(text)) else []),
        *(["begins small"] if text[:1].islower() else []),
        *(["is too long"] if len(text) > longest else []),
    ]
