"""Job fields in texts: ``{title}`` and its like; ``{{`` and ``}}`` stand for braces."""

import re
from collections.abc import Mapping

_TOKEN = re.compile(r"\{\{|\}\}|\{([^{}]*)\}|[{}]")


def fill(text: str, fields: Mapping[str, str]) -> str:
    """Put fields into a text. KeyError names an unknown field; ValueError tells of a single brace.

    >>> fill("{title} in {{braces}}", {"title": "Slow Ferry"})
    'Slow Ferry in {braces}'
    """

    def one(match: re.Match[str]) -> str:
        token = match[0]
        if token in ("{{", "}}"):
            return token[0]
        if match[1] is None:
            raise ValueError(f"a single {token} in a text, without its {'}' if token == '{' else '{'}")
        return fields[match[1].strip()]

    return _TOKEN.sub(one, text)
