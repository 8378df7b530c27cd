"""The one gate through which every name goes on its way to a screen.

Names come from drawings, palettes and plans of others. Control characters in them
would move the cursor of a terminal, set its title or hide what follows; marks that
turn the direction of writing show other words than stand there.
"""

from __future__ import annotations

import re

# C0 and C1 controls (ISO/IEC 6429), line and paragraph separators, embeddings,
# overrides and isolates of direction (Unicode Standard Annex 9), lone surrogates
_CONTROL = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069\ud800-\udfff]"
)


def find_control(text: str) -> str:
    """Return the first character that steers a screen instead of showing itself.

    `text`: any text. Empty where there is none; tabs and line feeds are none.
    """
    found = _CONTROL.search(text)
    return found[0] if found else ""


def is_text(name: str) -> bool:
    """Tell whether a name can be written at all: no null in it, no lone surrogate."""
    return "\0" not in name and name.encode(errors="replace").decode() == name


def visible(text: str) -> str:
    r"""Return a text in which nothing steers the screen but line feeds and tabs.

    `text`: any text. Returns the text, with ``\u001b`` and the like, as in JSON, for
    what would.

    Examples
    --------
    >>> print(visible("red\x1b[2J\n"), end="")
    red\u001b[2J
    """
    return _CONTROL.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


def title_words(file: str) -> str:
    """Return a drawing's title in words, from the name of its file.

    `file`: file name, without a folder or with. Returns words with spaces, the first
    letter a capital; "Drawing" where the name says nothing.

    Examples
    --------
    >>> [title_words(f) for f in ("garden-door_2.svg", "a/b/Plan B.svg", "-.svg", "")]
    ['Garden door 2', 'Plan B', 'Drawing', 'Drawing']
    """
    stem = re.split(r"[/\\]", file)[-1]
    stem = stem.rpartition(".")[0] or stem
    words = " ".join(re.split(r"[\s_\-.]+", stem)).strip()
    return words[:1].upper() + words[1:] if words else "Drawing"
