"""What a palette is: swatches to choose from, with how they are bought and laid."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from html import escape
from typing import TYPE_CHECKING

from fillwork.errors import PaletteError
from fillwork.values import changed_repr, check_kind, told_repr

if TYPE_CHECKING:
    from fillwork.notes import Note

MOST_SWATCHES = 300

Prices = tuple[tuple[str, tuple[tuple[float, str, float], ...]], ...]
"""Names of tools and materials, each with sizes, their units and what they cost."""


@dataclass(frozen=True, slots=True)
class LeafSheet:
    """Hold how a leaf comes and is laid; None where common practice serves.

    Parameters
    ----------
    size : tuple of float or None
        Width and height of a leaf, mm.
    lap : float or None
        Lap of leaves, mm.
    loss : float or None
        Share lost to faults and wind.
    book : int or None
        Leaves in a book.
    imitation : bool
        Whether it is imitation metal, which tarnishes and wants a varnish.
    """

    size: tuple[float, float] | None = None
    lap: float | None = None
    loss: float | None = None
    book: int | None = None
    imitation: bool = False


@dataclass(frozen=True, slots=True)
class Swatch:
    """Hold one paint of a palette.

    Parameters
    ----------
    name : str
        Name for users, unique in the palette.
    code : str
        What stands in the regions on a sheet: ``1``, ``2``, ...
    hex : str
        sRGB as ``#rrggbb``.
    oklch : tuple of float
        Lightness 0 to 1, chroma, hue in degrees.
    lab : tuple of float
        CIE L*a*b* for D65 (coloraide's ``lab-d65``), for differences.
    medium : str
        ``gouache``, ``acrylic``, ``emulsion``, ``watercolour``, ``oil``,
        ``leaf``, ``lime wash``, ... or empty.
    pigments : tuple of str
        Colour Index generic names such as ``PB29``.
    opacity : str
        ``opaque``, ``semi-opaque``, ``semi-transparent``, ``transparent`` or
        empty.
    lightfastness : str
        ASTM D4303 class ``I`` to ``V``, or empty.
    role : str
        ``ground``, ``main``, ``accent``, ``line``, or empty.
    share : float or None
        Area share wished, as a fraction.
    coverage : float or None
        m² a litre covers in one coat.
    coats : int or None
        Coats that it takes; by its opacity where not given.
    price : tuple of (float, str, float)
        Size, its unit (``mL``, ``book``, ``leaf`` or ``piece``) and its price.
    leaf : LeafSheet or None
        How a leaf comes.
    drying, cure : float or None
        Hours between coats, days until it has cured.
    cautions : tuple of str
        Sentences.
    source : str
        Where the numbers come from; ``from memory`` is said.
    note : str
        Anything else.
    """

    name: str
    code: str
    hex: str
    oklch: tuple[float, float, float]
    lab: tuple[float, float, float]
    medium: str = ""
    pigments: tuple[str, ...] = ()
    opacity: str = ""
    lightfastness: str = ""
    role: str = ""
    share: float | None = None
    coverage: float | None = None
    coats: int | None = None
    price: tuple[tuple[float, str, float], ...] = ()
    leaf: LeafSheet | None = None
    drying: float | None = None
    cure: float | None = None
    cautions: tuple[str, ...] = ()
    source: str = ""
    note: str = ""

    def __repr__(self) -> str:
        return changed_repr(self)


def find_namesake(swatches: Sequence[Swatch]) -> tuple[int, str, str] | None:
    """Return the first paint whose name or code is that of a paint before it.

    Its place, ``name`` or ``code``, and what is wrong; None where all can be told
    apart. A paint may have its own code for a name.
    """
    seen: dict[str, tuple[int, str]] = {}
    for place, swatch in enumerate(swatches):
        for key, value in (("name", swatch.name), ("code", swatch.code)):
            other, as_what = seen.setdefault(value.casefold(), (place, key))
            if other != place:
                what = f"the {key} “{value}” is already the {as_what} of paint "
                return place, key, what + str(other + 1)
    return None


@dataclass(frozen=True, slots=True)
class Palette:
    """Hold the swatches to choose from.

    Parameters
    ----------
    name : str
        Name for users.
    swatches : tuple of Swatch
        In the order of the file.
    note, source : str
        Free text.
    file : str
        File name without folder, ``earth.toml``.
    digest : str
        SHA-256 of the file's bytes.
    currency : str
        The word for prices.
    notes : tuple of Note
        Doubts met on reading, such as a colour outside sRGB.
    prices : tuple of (str, tuple of (float, str, float))
        What tools and materials cost: name, and sizes as a paint's `price` has.
    """

    name: str
    swatches: tuple[Swatch, ...]
    note: str = ""
    source: str = ""
    file: str = ""
    digest: str = ""
    currency: str = ""
    notes: tuple[Note, ...] = field(default=())
    prices: Prices = ()

    @classmethod
    def from_colours(
        cls, colours: Mapping[str, str] | Iterable[str], *, name: str = "own colours"
    ) -> Palette:
        """Return a palette of plain colours, made in memory.

        Parameters
        ----------
        colours : mapping of str to str, or iterable of str
            Name and CSS colour of each, in order; of colours alone, the colour is the
            name.
        name : str
            Name for users.

        Returns
        -------
        Palette
            Swatches with the codes 1, 2, ...

        Raises
        ------
        PaletteError
            If there are none or too many, a name or colour cannot be used, or a name
            is that of another paint, or its code.

        Examples
        --------
        >>> palette = Palette.from_colours({"ivory": "#fffff0", "sky": "skyblue"})
        >>> [(swatch.code, swatch.name, swatch.hex) for swatch in palette.swatches]
        [('1', 'ivory', '#fffff0'), ('2', 'sky', '#87ceeb')]
        """
        from fillwork.colouring.difference import parse_colour
        from fillwork.colouring.palettes.tables import (
            LONGEST_NAME,
            fit_name,
            wrong_line,
            wrong_name,
        )

        check_kind(name, str, "name")
        if wrong := wrong_line(name, "name", LONGEST_NAME):
            raise PaletteError(wrong[0], fit_name(name), wrong[1])
        if isinstance(colours, str):
            what = "colours must be a mapping of names to colours, or a list"
            raise PaletteError(what, name, 'write {"ivory": "#fffff0"}')
        if isinstance(colours, Mapping):
            pairs = list(colours.items())
        else:
            pairs = [(str(c).lstrip("#"), c) for c in colours]
        if not 1 <= len(pairs) <= MOST_SWATCHES:
            what = f"a palette has 1 to {MOST_SWATCHES} colours, not {len(pairs)}"
            raise PaletteError(what, name, 'write {"ivory": "#fffff0"}')
        swatches: list[Swatch] = []
        for place, (given, colour) in enumerate(pairs):
            if not isinstance(given, str) or not isinstance(colour, str):
                what = f"{given!r}: {colour!r} are not a name and a colour in words"
                raise PaletteError(what, name, 'write {"ivory": "#fffff0"}')
            own = " ".join(given.split())
            if wrong := wrong_name(own):
                raise PaletteError(wrong[0], name, wrong[1])
            found = parse_colour(colour)
            swatches.append(
                Swatch(own, str(place + 1), found.hex, found.oklch, found.lab)
            )
        if taken := find_namesake(swatches):
            raise PaletteError(taken[2], name, "name each differently")
        return cls(name, tuple(swatches))

    def to_toml(self) -> str:
        """Return the palette as the text of a palette file.

        Returns
        -------
        str
            Names, codes, colours and what else is plain; prices, leaf and drying
            times are left out.
        """
        import tomli_w

        paints = []
        for swatch in self.swatches:
            paint: dict[str, object] = {
                "name": swatch.name, "code": swatch.code, "colour": swatch.hex,
            }  # fmt: skip
            for key in ("medium", "opacity", "lightfastness", "role", "share",
                        "coverage", "coats", "source", "note"):  # fmt: skip
                value = getattr(swatch, key)
                if value not in ("", None):
                    paint[key] = value
            for key in ("pigments", "cautions"):
                if getattr(swatch, key):
                    paint[key] = list(getattr(swatch, key))
            paints.append(paint)
        table: dict[str, object] = {"name": self.name, "paint": paints}
        if self.note:
            table["note"] = self.note
        if self.source:
            table["source"] = self.source
        return tomli_w.dumps(table)

    def __repr__(self) -> str:
        return told_repr(self, self.name, swatches=len(self.swatches))

    def _repr_html_(self) -> str:
        """Show the colours in a notebook, each with its code and name."""
        row = "".join(
            f'<td style="padding:0 12px 0 0"><span style="display:inline-block;'
            f"width:32px;height:32px;border:1px solid #000;background:{s.hex}"
            f'"></span><br>{escape(s.code)} {escape(s.name)}</td>'
            for s in self.swatches
        )
        return f"<table><caption>{escape(self.name)}</caption><tr>{row}</tr></table>"

    def index(self, name_or_code: str) -> int:
        """Return the place of a swatch.

        Parameters
        ----------
        name_or_code : str
            Its name (case does not matter) or code.

        Returns
        -------
        int
            Place from 0.

        Raises
        ------
        KeyError
            If there is no such swatch.
        """
        wanted = name_or_code.strip().casefold()
        for place, swatch in enumerate(self.swatches):
            if wanted in (swatch.name.casefold(), swatch.code.casefold()):
                return place
        raise KeyError(name_or_code)
