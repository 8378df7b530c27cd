"""The last step: scope, selectors, groups of lines, notes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.errors import LineWorkError, ReadError
from fillwork.geometry.curves import LINE
from fillwork.geometry.quarters import quarters_as_arcs, whole_circles
from fillwork.linework import Frame, LineGroup, LineWork
from fillwork.readers.strokes.bars import single_lines
from fillwork.readers.strokes.clip import Budget
from fillwork.readers.strokes.collect import merge_tables, transform_rows
from fillwork.readers.strokes.crossed import drop_inner_edges
from fillwork.readers.strokes.dashes import know_dashes, rounded_width
from fillwork.readers.strokes.decimals import rounding_as_written
from fillwork.readers.strokes.expanded import middle_lines
from fillwork.readers.strokes.hidden import drop_covered
from fillwork.readers.strokes.ink import lines_of_ink
from fillwork.readers.strokes.notes import (
    NoteList,
    no_lines,
    none_left,
    reading_notes,
    refuse_unknown,
    several,
)
from fillwork.readers.strokes.outlines import (
    box_of,
    ends_where_it_begins,
    extents,
    find_backgrounds,
    find_bands,
    find_grounds,
    free_length,
    measure_lengths,
    size_of,
)

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.readers.selectors import Choice, Condition, Selector, Style
    from fillwork.readers.source import SourceFile
    from fillwork.readers.strokes.collect import Context, StrokeTable
    from fillwork.readers.strokes.drawn import Seen
    from fillwork.readers.strokes.page import Page

# edges of fills clear of strokes, beside the strokes' length, that are lines as well;
# the drawings it was set by have .08 (arrow heads) and .11 (small squares) beside it
_FREE = 0.1
_SPECK = 1e-4  # mm: a drawing smaller than this is a mistake of units
# fewer lines left by fills over them, as a share and in number: the fills are a slip
_LEAST_SEEN, _HANDFUL = 0.2, 12
# share of its pen's width up to which a closed line is a dot, its ink all over it, and
# of all line, above which the width of pens is what is wrong
_FILLED, _DOTTED = 0.5, 0.05
_TOO_MANY = ": there are too many"


@dataclass(frozen=True, slots=True, eq=False)
class _Lines:
    # strokes with their style, before any is left out
    table: StrokeTable
    style: Ints
    styles: tuple[Style, ...]
    context: Ints
    contexts: list[Context]
    length: Floats

    def are(self, what: str) -> Bools:
        """Return of which strokes the context says so. `what`: a field of `Context`."""
        told = [getattr(context, what) for context in self.contexts]
        return np.array(told, bool)[self.context]


def assemble(
    file: SourceFile,
    walk: Seen,
    page: Page,
    strokes: StrokeTable,
    choice: Choice,
    outside: list[str],
    counts: dict[str, int],
    uncut: StrokeTable,
) -> LineWork:
    """Return the line work that the user chose.

    `strokes`: all strokes in mm. `choice`: selectors and scope. `counts`: strokes left
    out or cut on the way. `uncut`: all strokes before the page and clips cut them.
    Raises `LineWorkError` if a selector names a layer or class that there is not, or no
    line is left.
    """
    if not len(strokes.closed):
        raise no_lines(file.name, walk, counts)
    know_dashes(strokes, walk.collector)
    contexts = walk.collector.contexts
    of_item = walk.collector.of_item
    lines = _with_styles(strokes, contexts, of_item)
    notes = NoteList(walk)
    refuse_unknown(choice, list(walk.layers), walk.classes, file.name)
    whole, picked = lines, _chosen(choice, lines)
    lines, chosen = _seen(choice, walk, whole, picked, uncut, page, notes)
    strokes = lines.table
    # an edge that a line was drawn along is no line of its own, though both be hidden
    drawn = whole.table, picked & whole.are("stroked")
    used, scope = _in_use(choice, lines, chosen, drawn, page, notes)
    if not used.any():
        hidden = any(note.type == "hidden" for note in notes.notes)
        n, styles = len(lines.style), lines.styles
        raise none_left(file.name, n, styles, choice, scope, hidden=hidden)
    _refuse_specks(strokes.take(used), file.name)
    groups = _groups(lines, used)
    rules = np.array([c.even_odd for c in contexts], bool)[of_item]
    bands = used & lines.are("filled") & ~(lines.are("stroked") | lines.are("laid"))
    table = _without_bands(strokes, used, bands, rules, choice, notes)
    table = _without_inner_edges(table, contexts, of_item, choice, notes)
    style_of_item = np.zeros(len(of_item), np.int64)
    style_of_item[strokes.item] = lines.style
    frame, table = _frame(page, table)
    reading_notes(notes, outside, counts, page)
    arcs = quarters_as_arcs(table.curves())
    rounded, known = rounding_as_written(arcs, table, contexts, of_item, frame)
    names = walk.collector.item_name
    lines_in_file = np.array(walk.collector.item_line, np.int32) + walk.line_shift
    return LineWork(
        curves=whole_circles(arcs, table.start, rounded),
        stroke_start=table.start.astype(np.int32),
        closed=table.closed,
        style=style_of_item[table.item].astype(np.int32),
        styles=lines.styles,
        source_line=lines_in_file[table.item],
        source_name=tuple([names[k] for k in table.item.tolist()]),
        frame=frame,
        file=file.name,
        digest=file.digest,
        scope=scope,
        groups=groups,
        notes=tuple(notes.notes),
        rounding=known,
    )


def _in_use(
    choice: Choice,
    lines: _Lines,
    chosen: Bools,
    drawn_along: tuple[StrokeTable, Bools],
    page: Page,
    notes: NoteList,
) -> tuple[Bools, str]:
    """Return which of the chosen lines are the line work, and of which sort that is."""
    stroked, filled, laid = (lines.are(what) for what in ("stroked", "filled", "laid"))
    if (stroked & chosen).any():
        # a line that is filled and has no stroke shows nothing
        chosen = chosen & (stroked | laid | ~_are_flat(lines.table))
    chosen = chosen & ~_dashed_guides(choice, lines, stroked & chosen, notes)
    scope, backgrounds = _scope(choice, lines, chosen, drawn_along, page, notes)
    used = chosen & (stroked if scope == "stroked" else ~backgrounds)
    used &= ~_dots(choice, lines, used, notes)
    return used & filled if scope == "outlines" else used, scope


def _without_bands(
    strokes: StrokeTable,
    used: Bools,
    fills: Bools,
    even_odd: Bools,
    choice: Choice,
    notes: NoteList,
) -> StrokeTable:
    """Return the strokes in use, with middle lines for expanded strokes where known."""
    bands, width, count = find_bands(strokes, fills)
    middle = None
    if choice.scope == "auto" and fills.any():
        likely = bands if width else fills
        singles = single_lines(strokes.take(fills), likely[fills])
        if singles is not None:
            middle, taken, width = singles
            bands = np.zeros(len(fills), bool)
            bands[np.flatnonzero(fills)[taken]] = True
            count = count or "all"
        elif width:
            middle = middle_lines(strokes.take(bands), even_odd, width)
        if singles is None and (middle is None or (fills & ~bands).any()):
            ink = lines_of_ink(strokes.take(fills), even_odd)
            if ink is not None:
                (middle, width), bands, count = ink, fills, "all"
    if not width:
        return strokes.take(used)
    text = (
        f"{count} filled shapes look like strokes that were made into thin bands, "
        f"near {width:.2g} mm wide"
    )
    if middle is None:
        text += (
            "; both edges of each are taken as lines, so thin regions stand where a "
            "line was meant"
        )
        remedy = "save the drawing with strokes that are not expanded into outlines"
        notes.add("expanded strokes", text, remedy)
        return strokes.take(used)
    text += ": their middle lines are taken"
    notes.add("expanded strokes", text, "--scope outlines takes both edges of each")
    return merge_tables([strokes.take(used & ~bands), middle])


def _without_inner_edges(
    table: StrokeTable,
    contexts: list[Context],
    of_item: Ints,
    choice: Choice,
    notes: NoteList,
) -> StrokeTable:
    """Return the strokes without edges inside fills that cross themselves."""
    about = [c.filled and not (c.stroked or c.laid) for c in contexts]
    fills = np.array(about, bool)[of_item[table.item]]
    if choice.hidden == "keep" or not fills.any():
        return table
    rules = np.array([c.even_odd for c in contexts], bool)[of_item]
    walk = notes.walk
    spend = Budget(walk.limits, walk.where).spend
    try:
        left = drop_inner_edges(table, fills & table.closed, rules, spend)
    except ReadError:
        text = "edges inside shapes that cross themselves were not looked for"
        notes.add("hidden", text + _TOO_MANY, "--allow-large looks further")
        return table
    if left is table:
        return table
    before, after = (measure_lengths(t.kind, t.data).sum() for t in (table, left))
    text = (
        f"{before - after:.4g} mm of edges lie inside filled shapes that cross "
        "themselves and are not seen"
    )
    few = choice.hidden == "auto" and after < _LEAST_SEEN * before
    _tell_hidden(text, few, notes)
    return table if few else left


def _tell_hidden(text: str, few: bool, notes: NoteList) -> None:
    """Say what is not seen. `few`: whether it is kept, as hardly any would be left."""
    if few:
        text += ", which leaves hardly any, so they are kept"
        notes.add("hidden", text, "--hidden drop leaves them out")
    else:
        notes.add("hidden", text + ": left out", "--hidden keep takes them")


def _refuse_specks(table: StrokeTable, name: str) -> None:
    size = size_of(table)
    if size < _SPECK:
        what = f"the whole drawing is {size:.2g} mm across, too small to work on"
        raise LineWorkError(what, name, "check the drawing's page size and viewBox")


def _with_styles(
    strokes: StrokeTable, contexts: list[Context], of_item: Ints
) -> _Lines:
    context = of_item[strokes.item]
    index: dict[Style, int] = {}
    widths: dict[float, float] = {}
    of_context = np.full(len(contexts), -1, np.int64)
    # in order of first use, so that the numbers do not depend on anything else
    first_use, order = np.unique(context, return_index=True)
    for k in first_use[np.argsort(order)].tolist():
        c = contexts[k]
        width = None
        if c.stroked:
            width = widths.get(c.width)
            if width is None:
                width = widths[c.width] = rounded_width(c.width)
        style = (c.layer, c.colour, width, c.dash)
        of_context[k] = index.setdefault(style, len(index))
    along = measure_lengths(strokes.kind, strokes.data)
    lengths = np.add.reduceat(along, strokes.start[:-1])
    of_stroke = of_context[context]
    return _Lines(strokes, of_stroke, tuple(index), context, contexts, lengths)


def _are_flat(table: StrokeTable) -> Bools:
    """Return which strokes are straight lines with all their points on one line."""
    of_row = np.repeat(np.arange(len(table.closed)), np.diff(table.start))
    count = np.bincount(of_row)
    bent = np.bincount(of_row, table.kind != LINE) > 0
    x, y = table.data[:, 0:3:2].T, table.data[:, 1:4:2].T
    ends = np.stack([x, y], axis=-1)
    low, high = np.minimum(*ends), np.maximum(*ends)
    start = table.start[:-1]
    corner = np.minimum.reduceat(low, start)
    size = np.maximum.reduceat(high, start) - corner
    ends = (ends - corner[of_row]) / np.maximum(size.max(axis=1), 1e-300)[of_row, None]
    middle = np.stack([np.bincount(of_row, e) for e in ends.sum(axis=0).T], axis=1)
    x, y = np.moveaxis(ends - (middle / (2 * count)[:, None])[of_row], 2, 0)
    xx, yy, xy = (
        np.bincount(of_row, (p * q).sum(axis=0)) for p, q in ((x, x), (y, y), (x, y))
    )
    # the lesser moment about the middle: nothing, where all lie on one line
    return np.asarray(~bent & (xx * yy - xy**2 <= 1e-10 * (xx + yy) ** 2))


def _dashed_guides(
    choice: Choice, lines: _Lines, used: Bools, notes: NoteList
) -> Bools:
    """Return the dashed lines that are guides, and say what dashed lines count as.

    Guides are in colours that no whole line has, and less than the whole lines.
    Where the user says which lines to take, none is left out beyond that.
    """
    dashed = np.array([style[3] for style in lines.styles], bool)[lines.style] & used
    whole = used & ~dashed
    guides = np.zeros(len(used), bool)
    if not dashed.any() or not whole.any():
        return guides
    if not (choice.lines or choice.leave):
        inks = {lines.styles[k][1] for k in np.unique(lines.style[whole]).tolist()}
        other = np.array([style[1] not in inks for style in lines.styles], bool)
        guides = dashed & other[lines.style]
        if lines.length[guides].sum() >= lines.length[whole].sum():
            guides[:] = False
    count, rest = int(guides.sum()), int((dashed & ~guides).sum())
    if count:
        text = (
            f"{several(count, 'dashed line')} in colours that no whole line has "
            "are taken for guides and left out"
        )
        notes.add("dashed", text, "--lines dash=yes --lines dash=no takes them")
    if rest:
        text = f"{several(rest, 'dashed line')} count as lines like all others"
        notes.add("dashed", text, "--leave dash=yes leaves them out")
    return guides


def _dots(choice: Choice, lines: _Lines, used: Bools, notes: NoteList) -> Bools:
    """Return the closed lines that their own ink fills, as of nodes, and tell them.

    None, where the pens may be wider than what is drawn is fine, or who chooses lines
    says which to take.
    """
    width = np.array([style[2] or 0.0 for style in lines.styles])[lines.style]
    none = np.zeros(len(used), bool)
    dots = used & (extents(lines.table) < _FILLED * width)
    if not dots.any() or choice.lines or choice.hidden == "keep":
        return none
    dots[dots] = ends_where_it_begins(lines.table.take(dots))
    few = lines.length[dots].sum() <= _DOTTED * lines.length[used].sum()
    if not dots.any() or not few:
        return none
    text = f"{several(int(dots.sum()), 'closed line')} smaller than half the pen are "
    notes.add("dots", text + "dots and left out", "--hidden keep takes them")
    return dots


def _holds(selector: Selector, names: tuple[Condition, ...], lines: _Lines) -> Bools:
    fits = np.ones(len(lines.style), bool)
    for condition in selector.conditions:
        if condition in names:
            bit = 1 << names.index(condition)
            of_context = np.array([bool(c.names & bit) for c in lines.contexts], bool)
            fits &= of_context[lines.context]
        else:
            of_style = np.array([condition.fits(s) for s in lines.styles], bool)
            fits &= of_style[lines.style]
    return fits


def _chosen(choice: Choice, lines: _Lines) -> Bools:
    chosen = np.full(len(lines.style), not choice.lines)
    for selector in choice.lines:
        chosen |= _holds(selector, choice.names, lines)
    for selector in choice.leave:
        chosen &= ~_holds(selector, choice.names, lines)
    return chosen


def _seen(
    choice: Choice,
    walk: Seen,
    lines: _Lines,
    chosen: Bools,
    uncut: StrokeTable,
    page: Page,
    notes: NoteList,
) -> tuple[_Lines, Bools]:
    """Return the lines, and which are chosen, without what later fills hide.

    Lines that the selectors leave out neither hide nor are hidden, and a background
    of the whole page does neither as well.
    """
    contexts = walk.collector.contexts
    if choice.hidden == "keep" or not any(c.covers for c in contexts):
        return lines, chosen
    table = lines.table
    plain = lines.are("filled") & ~lines.are("stroked") & chosen
    chosen_here = chosen & ~find_backgrounds(table, plain, page)
    of_item = walk.collector.of_item
    some = np.flatnonzero(chosen_here)
    spend = Budget(walk.limits, walk.where).spend
    try:
        left = drop_covered(
            table.take(chosen_here), uncut, contexts, of_item, 1.0, spend
        )
    except ReadError:
        text = "lines under filled shapes were not looked for"
        notes.add("hidden", text + _TOO_MANY, "--allow-large looks further")
        return lines, chosen
    if left is None:
        return lines, chosen
    seen, source = left
    rest = _with_styles(
        merge_tables([table.take(~chosen_here), seen]), contexts, of_item
    )
    before, after = float(lines.length.sum()), float(rest.length.sum())
    if before - after <= 1e-9 * before:
        return lines, chosen
    count = int((np.bincount(source, minlength=len(some)) > 0).sum())
    whole = len(some) - count
    text = (
        f"{before - after:.4g} mm of line lie under filled shapes drawn over them and "
        f"are not seen; {several(whole, 'line')} {_are(whole)} hidden whole"
    )
    least = min(_LEAST_SEEN * len(some), _HANDFUL)
    few = choice.hidden == "auto" and count < least
    _tell_hidden(text, few, notes)
    return (lines, chosen) if few else (rest, _chosen(choice, rest))


def _scope(
    choice: Choice,
    lines: _Lines,
    chosen: Bools,
    drawn_along: tuple[StrokeTable, Bools],
    page: Page,
    notes: NoteList,
) -> tuple[str, Bools]:
    # which sort of lines, and which fills are only a background
    stroked = lines.are("stroked")
    nothing = np.zeros(len(stroked), bool)
    fills = lines.are("filled") & ~stroked & chosen
    scope = choice.scope
    if scope == "stroked" or not fills.any():
        return ("stroked" if scope == "auto" else scope), nothing
    backgrounds = find_backgrounds(lines.table, fills, page)
    if scope == "auto":
        drawn = float(lines.length[stroked & chosen].sum())
        any_drawn = bool((stroked & chosen).any())
        if any_drawn:
            white = np.array([style[1] == "#ffffff" for style in lines.styles], bool)
            grounds = find_grounds(lines.table, fills & white[lines.style])
            if (grounds & ~backgrounds).any():
                text = "a white shape that all else was drawn on is taken for paper"
                notes.add("paper", text, "--scope both takes its edge for a line")
            backgrounds |= grounds
        n_edges = int((fills & ~backgrounds).sum())
        if n_edges == 0 and any_drawn:
            return "stroked", nothing
        if not any_drawn:
            scope = "outlines"
            why = "no shape has a stroke, so the edges of the fills are the lines"
        else:
            edges = lines.table.take(fills & ~backgrounds)
            widths = [w for *_, w, _ in lines.styles if w]
            free = free_length(edges, drawn_along[0].take(drawn_along[1]), widths)
            share = f"{100 * free / max(drawn, 1e-300):.2g} % of the strokes' length"
            if free < _FREE * drawn:
                shapes = "1 shape" if n_edges == 1 else f"{n_edges} shapes"
                why = (
                    f"the stroked lines are the line work, without {shapes} with a "
                    f"fill only, whose edges clear of strokes are {share}"
                )
                notes.add("scope", why, "--scope both takes the edges of the fills too")
                return "stroked", nothing
            scope = "both"
            why = (
                "where they lie clear of strokes, the edges of "
                f"{'1 fill' if n_edges == 1 else f'{n_edges} fills'} are {share}, "
                "so both are the line work"
            )
        notes.add("scope", why, "--scope stroked, outlines or both decides otherwise")
    count = int(backgrounds.sum())
    if count and (fills & ~backgrounds).any() | stroked.any():
        text = f"{several(count, 'filled background')} of the whole page "
        text += f"{_are(count)} not line work"
        notes.add("background", text)
    else:
        backgrounds = nothing
    return scope, backgrounds


def _are(count: int) -> str:
    return "is" if count == 1 else "are"


def _groups(lines: _Lines, used: Bools) -> tuple[LineGroup, ...]:
    n = len(lines.styles)
    found: list[LineGroup] = []
    for taken in (True, False):
        some = used == taken
        counts = np.bincount(lines.style[some], minlength=n)
        lengths = np.bincount(lines.style[some], lines.length[some], minlength=n)
        for k in np.flatnonzero(counts).tolist():
            count, length = int(counts[k]), float(lengths[k])
            found.append(LineGroup(*lines.styles[k], count, length, taken))
    found.sort(key=lambda group: (not group.used, -group.length))
    return tuple(found)


def _frame(page: Page, table: StrokeTable) -> tuple[Frame, StrokeTable]:
    if page.has_page:
        width, height = page.size_mm
        frame = Frame(width, height, page.to_mm, page.unit, page.scale_known)
        return frame, table
    # without a page the box of the lines serves
    low, high = box_of(table)
    a, b, c, d, e, f = page.to_mm
    shift = np.array([[1.0, 0.0, 0.0, 1.0, -low[0], -low[1]]])
    transform_rows(table.kind, table.data, shift, np.zeros(len(table.kind), np.int64))
    width, height = (high - low).tolist()
    to_mm = (a, b, c, d, e - float(low[0]), f - float(low[1]))
    return Frame(
        width, height, to_mm, page.unit, page.scale_known, has_page=False
    ), table
