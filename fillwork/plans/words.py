"""Numbers as a workshop says them: two or three digits, the same everywhere.

Areas and lengths have three significant digits; what is bought has two, rounded
up, for coverage is not known better.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence


_FORMULA = ("+", "-", "@", "=", "\t", "\r", "\n", "＋", "－", "＠", "＝")
"""What a spreadsheet may take for the beginning of a formula, in full width too."""


def harmless(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula.

    The text, behind an apostrophe where it begins like one.

    `text`: a cell of a table.

    Examples
    --------
    >>> harmless("=1+1"), harmless("gold")
    ("'=1+1", 'gold')
    """
    return "'" + text if text.startswith(_FORMULA) else text


def three(value: float) -> str:
    """Return a number with three significant digits and no exponent.

    Trailing zeros within the three digits are kept.

    `value`: a number of 0 or more.

    Examples
    --------
    >>> three(1234.5), three(0.98765), three(0)
    ('1230', '0.988', '0')
    """
    if value <= 0:
        return "0"
    places = 2 - math.floor(math.log10(value) + 1e-12)
    rounded = round(value, places)
    # 9.996 becomes 10.0, not 10.00
    places = 2 - math.floor(math.log10(rounded) + 1e-12)
    return f"{rounded:.{max(places, 0)}f}"


def area_words(mm2: float, whole: float | None = None) -> str:
    """Return an area with a fitting unit, in mm², cm² or m².

    `whole`: what the areas of a list make together, mm²: one unit serves them all.

    Examples
    --------
    >>> area_words(81300), area_words(540000), area_words(81300, 1e6)
    ('813 cm²', '0.540 m²', '0.0813 m²')
    """
    # a list turns to m² later: its small areas would begin with noughts
    large = mm2 if whole is None else whole
    if large >= (1e5 if whole is None else 1e6):
        return f"{three(mm2 / 1e6)} m²"
    if large >= 100.0:
        return f"{three(mm2 / 100.0)} cm²"
    return f"{three(mm2)} mm²"


def leaves_words(count: int) -> str:
    """Return a number of leaves of metal, as ``2 leaves``."""
    return "1 leaf" if count == 1 else f"{count} leaves"


def length_words(mm: float) -> str:
    """Return a length with a fitting unit, in mm or m."""
    return f"{three(mm / 1000.0)} m" if mm >= 1000.0 else f"{three(mm)} mm"


def _need_ml(ml: float) -> float:
    """Return a volume to two digits, rounded up.

    What is told, mL; never under 0.1 for what is needed at all.
    """
    if ml <= 0:
        return 0.0
    if ml < 0.1:
        return 0.1
    step = 10.0 ** (math.floor(math.log10(ml)) - 1)
    return float(f"{math.ceil(ml / step - 1e-6) * step:.6g}")


def volume_words(ml: float) -> str:
    """Return a volume to buy; two digits, rounded up.

    Examples
    --------
    >>> volume_words(1234.0), volume_words(991.0), volume_words(0.02)
    ('1.3 L', '1.0 L', 'under 0.1 mL')
    """
    if 0 < ml < 0.1:
        return "under 0.1 mL"
    # what rounds up to a litre is one
    if _need_ml(ml) >= 1000.0:
        return f"{need_text(ml / 1000.0)} L"
    return f"{need_text(ml)} mL"


def need_text(amount: float) -> str:
    """Return an amount with two digits, rounded up, and no unit.

    A trailing zero within the two digits is kept.

    `amount`: how much.

    Examples
    --------
    >>> need_text(6.0), need_text(0.87), need_text(123.0)
    ('6.0', '0.87', '130')
    """
    value = _need_ml(amount)
    if value <= 0:
        return "0"
    places = max(0, 1 - math.floor(math.log10(value) + 1e-9))
    return f"{value:.{places}f}"


def size_words(ml: float) -> str:
    """Return the size of a package, in mL or L. `ml`: volume, mL."""
    return f"{ml / 1000.0:g} L" if ml >= 1000.0 else f"{ml:g} mL"


def packages_words(packages: Sequence[tuple[float, int]]) -> str:
    """Return what to buy, such as ``1 x 250 mL + 1 x 100 mL``.

    `packages`: size, mL, and count.
    """
    return " + ".join(f"{n} x {size_words(size)}" for size, n in packages)


def price_words(amount: float, currency: str) -> str:
    """Return a price."""
    return f"{amount:.2f} {currency}".strip()


def hours_words(hours: float) -> str:
    """Return a time of work or of drying, in minutes, hours or days.

    Examples
    --------
    >>> hours_words(0.25), hours_words(1), hours_words(36), hours_words(120)
    ('15 minutes', '1 hour', '36 hours', '5 days')
    """
    if hours < 0.99:
        return f"{max(5 * math.ceil(hours * 12 - 1e-9), 5)} minutes"
    if hours <= 48:
        rounded = float(f"{hours:.2g}")
        return f"{rounded:g} hour{'' if rounded == 1 else 's'}"
    return days_words(hours / 24.0)


def days_words(days: float) -> str:
    """Return a number of days, rounded up, or from 60 on of months."""
    whole = math.ceil(days - 1e-9)
    if whole >= 60:
        return f"{math.ceil(whole / 30 - 0.1)} months"
    return f"{whole} day{'' if whole == 1 else 's'}"


def joined(names: Sequence[str]) -> str:
    """Return names in a sentence, with commas and an ``and``."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def figure_words(across: float) -> str:
    """Return the true width of what is drawn in words.

    Such as ``the figure is 3.000 m across``. `across`: width, mm.
    """
    size = f"{across:.1f} mm" if across < 1000 else f"{across / 1000:.3f} m"
    return f"the figure is {size} across"
