"""Path data of many paths at once, turned into curves by array work.

All path strings of a drawing are joined and read together: bytes are sorted
into classes, numbers found by where classes change, converted in one call, and
laid out by command. Only a path that does not fit (an error, packed arc flags) is
rewritten by `path_repair` first.

A *segment* is one drawing command with one set of arguments; a *subpath* runs
from one moveto to the next. Grammar and meaning: SVG 2, chapter 9.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fillwork.geometry.curves import ARC, CUBIC, LINE
from fillwork.geometry.ranges import spread
from fillwork.readers.svg.shapes.arcs import centre_arcs
from fillwork.readers.svg.shapes.decimals import read_decimals
from fillwork.readers.svg.shapes.path_repair import ARGUMENTS, repair_path

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from fillwork.arrays import Bools, Floats, Ints


_END, _BLANK, _COMMA, _DIGIT, _SIGN, _DOT, _EXPONENT, _LETTER, _WRONG = range(9)

_CLASS = np.full(256, _WRONG, np.uint8)
_CLASS[0] = _END
_CLASS[[9, 10, 12, 13, 32]] = _BLANK
_CLASS[ord(",")] = _COMMA
_CLASS[ord("0") : ord("9") + 1] = _DIGIT
_CLASS[[ord("+"), ord("-")]] = _SIGN
_CLASS[ord(".")] = _DOT
_CLASS[[ord("e"), ord("E")]] = _EXPONENT
_COUNT = np.zeros(256, np.int64)
for _letter, _n in ARGUMENTS.items():
    for _form in (_letter, _letter.lower()):
        _CLASS[ord(_form)] = _LETTER
        _COUNT[ord(_form)] = _n

# Bytes that are read together; bounds the memory of one pass.
_PIECE = 4_000_000

# Which class may follow which inside one number (row: before, column: after).
_MAY = np.ones((9, 9), bool)
_MAY[_SIGN] = False
_MAY[_SIGN, [_DIGIT, _DOT]] = True
_MAY[_EXPONENT] = False
_MAY[_EXPONENT, [_DIGIT, _SIGN]] = True
_MAY[[_END, _BLANK, _COMMA, _LETTER, _EXPONENT], _EXPONENT] = False
_MAY[:, _WRONG] = False
_MAY[_WRONG] = False


@dataclass(frozen=True, slots=True, eq=False)
class PathTable:
    """Hold the curves of many paths in user units."""

    kind: NDArray[np.uint8]  # (N,): kind of each curve
    data: Floats  # (N, 8): its numbers, as in `Curves`
    # (S,): first curve of each subpath; subpaths without curves are left out
    start: Ints
    path: Ints  # (S,): the path that each subpath belongs to
    closed: Bools  # (S,): whether a closepath ends it
    wrong: dict[int, str]  # complaint about each path that has an error


def parse_paths(texts: Sequence[str], most: int) -> PathTable:
    """Return the curves of many paths.

    Curves of all paths, in order; a path with an error up to the error. `texts`: path
    data, one text a path. `most`: how many segments are allowed. Raises `OverflowError`
    if there are more segments than allowed.
    """
    plain = list(texts)
    wrong: dict[int, str] = {}
    tokens, bad = _tokenise(plain, most)
    if len(bad):
        for index in bad.tolist():
            plain[index], complaint = repair_path(plain[index])
            if complaint:
                wrong[index] = complaint
        tokens, bad = _tokenise(plain, most)
        if len(bad):  # repaired paths are plain, so this is not expected
            for index in bad.tolist():
                plain[index] = ""
                wrong[index] = "cannot read the path data"
            tokens, bad = _tokenise(plain, most)
    # numbers without measure make curves without measure, left out later
    with np.errstate(all="ignore"):
        kind, data, start, path, closed = _lay_out(tokens)
    return PathTable(kind, data, start, path, closed, wrong)


@dataclass(frozen=True, slots=True, eq=False)
class _Tokens:
    letter: NDArray[np.uint8]  # one entry a command
    path: Ints
    begin: Ints  # its first number
    sets: Ints  # how many sets of arguments
    numbers: Floats


@dataclass(slots=True)
class _Lexer:
    # What one pass over the bytes gathers, piece by piece.
    letters: list[NDArray[np.uint8]]
    letter_at: list[Ints]
    letter_begin: list[Ints]
    numbers: list[Floats]
    flags: list[Bools]
    errors: list[Ints]
    count: int = 0
    commands: int = 0
    before: int = _END
    solid: int = _END


def _tokenise(texts: list[str], most: int) -> tuple[_Tokens, Ints]:
    joined = ("\0".join(texts) + "\0").encode("latin-1", "replace")
    lengths = np.fromiter(map(len, texts), np.int64, len(texts)) + 1
    first = np.concatenate([[0], np.cumsum(lengths)])
    text = np.frombuffer(joined, np.uint8)
    lexer = _Lexer([], [], [], [], [], [])
    begin = 0
    while begin < len(text):
        end = _cut(text, begin)
        _read_piece(lexer, text[begin:end], begin)
        # no command draws with fewer than one letter or one number
        if lexer.count // 7 > most or lexer.commands > 2 * most + len(texts):
            raise OverflowError
        begin = end
    return _arrange(lexer, first, most)


def _cut(text: NDArray[np.uint8], begin: int) -> int:
    # end a piece where no number is under way
    end = begin + _PIECE
    while end < len(text):
        sort = _CLASS[text[begin + 1 : end]]
        found = np.flatnonzero((sort <= _COMMA) | (sort == _LETTER))
        if len(found):
            return begin + 1 + int(found[-1])
        end += end - begin
    return len(text)


def _read_piece(lexer: _Lexer, text: NDArray[np.uint8], offset: int) -> None:
    sort = _CLASS[text]
    before = np.empty_like(sort)
    before[0] = lexer.before
    before[1:] = sort[:-1]
    errors = [np.flatnonzero(~_MAY.ravel()[before * np.uint8(9) + sort])]
    inside = (sort >= _DIGIT) & (sort <= _EXPONENT)
    was_inside = (before >= _DIGIT) & (before <= _EXPONENT)
    begins = inside & (~was_inside | ((sort == _SIGN) & (before != _EXPONENT)))
    dots = np.flatnonzero(sort == _DOT)
    if len(dots):
        begins[dots[_second_dots(sort, begins, dots)]] = True
        follows = np.append(sort[1:], np.uint8(_END))[dots] == _DIGIT
        leads = (before[dots] == _DIGIT) & ~begins[dots]
        errors.append(dots[~follows & ~leads])
    comma = np.flatnonzero(sort == _COMMA)
    solid = sort[sort != _BLANK]
    if len(comma):
        # a comma stands after a number only
        ahead = np.concatenate([np.array([lexer.solid], np.uint8), solid[:-1]])
        previous = ahead[solid == _COMMA]
        errors.append(comma[(previous < _DIGIT) | (previous > _EXPONENT)])
    if len(solid):
        lexer.solid = int(solid[-1])
    lexer.before = int(sort[-1])

    where = np.flatnonzero(begins)
    # a sign must lead a number or an exponent, not stand before the next number
    errors.append(where[before[where] == _SIGN])
    if sort[-1] in {_SIGN, _EXPONENT}:
        # a piece ends before a blank, a comma or a letter
        errors.append(np.array([len(sort) - 1]))
    powers = np.flatnonzero(sort == _EXPONENT)
    if len(powers) > 1:
        # one exponent a number
        token = np.searchsorted(where, powers, side="right")
        errors.append(powers[1:][token[1:] == token[:-1]])
    follower = np.append(inside[1:] & ~begins[1:], False)[where]
    lexer.flags.append(~follower & ((text[where] | 1) == ord("1")))
    at = np.flatnonzero((sort == _LETTER) | (sort == _END))
    lexer.letters.append(text[at])
    lexer.letter_at.append(at + offset)
    lexer.letter_begin.append(np.searchsorted(where, at) + lexer.count)
    broken = np.concatenate(errors)
    lexer.errors.append(broken + offset)
    if len(broken):
        numbers = np.zeros(len(where))
    else:
        # a number goes on up to the next one, or up to what is part of none
        ends = np.append(begins[1:] | ~inside[1:], True) & inside
        numbers = read_decimals(text, where, np.flatnonzero(ends) + 1)
    lexer.numbers.append(numbers)
    lexer.count += len(where)
    lexer.commands += len(at)


def _second_dots(sort: NDArray[np.uint8], begins: Bools, dots: Ints) -> Bools:
    # a dot after a dot or an exponent of the same number begins the next one
    special = np.flatnonzero((sort == _DOT) | (sort == _EXPONENT))
    where = np.flatnonzero(begins)
    which = np.searchsorted(where, dots, side="right") - 1
    token = np.where(which >= 0, where[np.maximum(which, 0)], 0)
    rank: Ints = np.searchsorted(special, dots)
    return rank > np.searchsorted(special, token)


def _arrange(lexer: _Lexer, first: Ints, most: int) -> tuple[_Tokens, Ints]:
    n_paths = len(first) - 1
    letter = np.concatenate(lexer.letters)
    at = np.concatenate(lexer.letter_at)
    begin = np.concatenate(lexer.letter_begin)
    path = np.searchsorted(first, at, side="right") - 1
    need = _COUNT[letter]
    have = np.append(begin[1:], lexer.count) - begin
    divisor = np.maximum(need, 1)
    whole = np.where(need == 0, have == 0, (have > 0) & (have % divisor == 0))
    bad = np.zeros(n_paths + 1, bool)
    for found in lexer.errors:
        bad[np.searchsorted(first, found, side="right") - 1] = True
    # the end of a path counts as a command; numbers after it lead the next path
    ends = letter == 0
    bad[path[~whole] + ends[~whole]] = True
    bad[0] |= begin[0] > 0
    keep = ~ends
    letter, path, begin, sets = letter[keep], path[keep], begin[keep], have[keep]
    sets = np.where(need[keep] == 0, 1, sets // divisor[keep])
    whole = whole[keep]
    lead = np.flatnonzero(np.append(True, path[1:] != path[:-1])[: len(path)])
    bad[path[lead[(letter[lead] | 0x20) != ord("m")]]] = True
    arcs = np.flatnonzero(((letter | 0x20) == ord("a")) & whole)
    if len(arcs):
        flag = np.concatenate(lexer.flags)
        owner, k = spread(sets[arcs])
        owner = arcs[owner]
        place = begin[owner] + 7 * k
        bad[path[owner[~(flag[place + 3] & flag[place + 4])]]] = True
    if int(sets.sum()) > 2 * most + n_paths:
        raise OverflowError
    numbers = np.concatenate(lexer.numbers)
    return _Tokens(letter, path, begin, sets, numbers), np.flatnonzero(bad[:-1])


def _running(reset: Bools, value: Floats) -> tuple[Floats, Ints]:
    # running sums that begin anew at each reset, and the last reset of each;
    # long doubles keep what one path adds from blurring the next
    index = np.arange(len(value))
    last: Ints = np.maximum.accumulate(np.where(reset, index, 0))
    if reset.all():
        return value, last
    sums = np.cumsum(np.where(reset, 0.0, value), dtype=np.longdouble)
    return (value[last] + (sums - sums[last])).astype(np.float64), last


_LayOut = tuple["NDArray[np.uint8]", "Floats", "Ints", "Ints", "Bools"]


def _lay_out(tokens: _Tokens) -> _LayOut:
    owner, k = spread(tokens.sets)
    n = len(owner)
    if n == 0:
        none = np.empty(0, np.int64)
        return (
            np.empty(0, np.uint8), np.empty((0, 8)), none, none, np.empty(0, bool),
        )  # fmt: skip
    letter = tokens.letter[owner]
    relative = letter >= ord("a")
    code = (letter & 0xDF).astype(np.uint8)
    # further pairs after a moveto are linetos
    code[(code == ord("M")) & (k > 0)] = ord("L")
    need = _COUNT[letter]
    number = tokens.begin[owner] + need * k
    path = tokens.path[owner]
    move, close = code == ord("M"), code == ord("Z")
    fresh = move.copy()
    fresh[1:] |= close[:-1]
    subpath = np.cumsum(fresh) - 1
    numbers = np.append(tokens.numbers, np.zeros(8))
    last = number + need - 1
    x_at = np.where(code == ord("V"), -1, np.where(code == ord("H"), number, last - 1))
    y_at = np.where(code == ord("H"), -1, last)
    x_at[close] = y_at[close] = -1
    first = np.flatnonzero(fresh)
    end = np.empty((n, 2))
    for axis, at in ((0, x_at), (1, y_at)):
        end[:, axis] = _positions(
            numbers[at], relative | (at < 0), move, close, first, subpath, path
        )
    start = np.empty_like(end)
    start[0] = 0.0
    start[1:] = end[:-1]
    steps = _Steps(code, relative, number, numbers, start, end)
    kind, data, keep = steps.rows()
    keep &= ~move
    # a subpath keeps its place only if it draws anything
    kept = np.flatnonzero(keep)
    of = subpath[kept]
    begins = np.flatnonzero(np.append(True, of[1:] != of[:-1])[: len(of)])
    drawn = of[begins]
    ends = np.append(first[1:], n) - 1
    return kind[kept], data[kept], begins, path[first[drawn]], close[ends[drawn]]


def _positions(
    value: Floats,
    relative: Bools,
    move: Bools,
    close: Bools,
    first: Ints,
    subpath: Ints,
    path: Ints,
) -> Floats:
    # Two running sums: inside a subpath from its start or from the last
    # absolute number, then from subpath to subpath.
    if not relative.any():
        return value
    home = move | close  # these stand at the start of their subpath
    value_in = np.where(home, 0.0, value)
    reset = home | ~relative
    implicit = np.zeros(len(value), bool)
    implicit[first] = ~move[first]
    reset |= implicit
    offset, last = _running(reset, value_in)
    from_start = (home | (implicit & relative))[last]
    # the start of each subpath: absolute, or from the end of the one before
    n = len(first)
    before = np.maximum(first - 1, 0)
    new_path = np.append(True, path[first[1:]] != path[first[:-1]])
    step = np.where(move[first], value[first], 0.0)
    fixed = (move[first] & ~relative[first]) | new_path
    from_fixed = ~fixed & ~from_start[before]
    step = np.where(fixed, step, step + offset[before])
    begin, _ = _running(fixed | from_fixed, step) if n else (step, first)
    out: Floats = np.where(from_start, begin[subpath] + offset, offset)
    return out


class _Steps:
    """Hold the steps of many paths, and make rows of curves of them.

    `number`: the place of each step's first number in `numbers`. `start` and `end`:
    where each begins and ends.
    """

    def __init__(
        self,
        code: NDArray[np.uint8],
        relative: Bools,
        number: Ints,
        numbers: Floats,
        start: Floats,
        end: Floats,
    ) -> None:
        self.code, self.relative = code, relative
        self.number, self.numbers = number, numbers
        self.start, self.end = start, end
        self.kind = np.full(len(code), LINE, np.uint8)
        self.data = np.zeros((len(code), 8))
        self.data[:, 0:2], self.data[:, 2:4] = start, end
        self.gap = np.abs(end - start)
        self.keep: Bools = np.asarray(self.gap.any(axis=1))
        # rounding may leave a closing line of no length
        close = code == ord("Z")
        tiny = 1e-12 * (np.abs(start) + np.abs(end))
        self.keep &= ~(close & (self.gap <= tiny).all(axis=1))

    def rows(self) -> tuple[NDArray[np.uint8], Floats, Bools]:
        """Return kinds and rows of numbers, and which steps draw anything."""
        code = self.code
        for make, named in ((self._cubics, "CS"), (self._quadratics, "QT")):
            some = np.flatnonzero((code == ord(named[0])) | (code == ord(named[1])))
            if len(some):
                make(some)
        arc = np.flatnonzero((code == ord("A")) & self.keep)
        if len(arc):
            self._arcs(arc)
        return self.kind, self.data, self.keep

    def _points(self, rows: Ints, skip: int) -> Floats:
        """Return points that steps are given, behind so many numbers."""
        at = self.number[rows][:, None] + [skip, skip + 1]
        found: Floats = self.numbers[at]
        moved = self.relative[rows]
        found[moved] += self.start[rows[moved]]
        return found

    def _curves(self, rows: Ints, lead: Floats, second: Floats) -> None:
        data = self.data
        data[rows, 2:4], data[rows, 4:6], data[rows, 6:8] = lead, second, self.end[rows]
        self.kind[rows] = CUBIC

    def _cubics(self, cubic: Ints) -> None:
        full, start = self.code[cubic] == ord("C"), self.start[cubic]
        second = self._points(cubic, 0)
        second[full] = self._points(cubic[full], 2)
        lead = start.copy()
        lead[full] = self._points(cubic[full], 0)
        # a smooth curve mirrors the control point of the curve before it
        chained = ~full & np.append(False, np.diff(cubic) == 1)
        at = np.flatnonzero(chained)
        lead[at] = 2 * start[at] - second[at - 1]
        self._curves(cubic, lead, second)
        self.keep[cubic] |= (np.abs(lead - start) > 0).any(axis=1)
        self.keep[cubic] |= (np.abs(second - start) > 0).any(axis=1)

    def _quadratics(self, quad: Ints) -> None:
        full, p0, p2 = self.code[quad] == ord("Q"), self.start[quad], self.end[quad]
        control = p0.copy()
        control[full] = self._points(quad[full], 0)
        # each smooth curve depends on the one before it: in order
        follows = np.append(False, np.diff(quad) == 1)
        for at in np.flatnonzero(~full & follows).tolist():
            control[at] = 2 * p0[at] - control[at - 1]
        # raised to a cubic, exactly
        self._curves(quad, p0 + (control - p0) * (2 / 3), p2 + (control - p2) * (2 / 3))
        self.keep[quad] |= (np.abs(control - p0) > 0).any(axis=1)

    def _arcs(self, arc: Ints) -> None:
        arguments = self.numbers[self.number[arc][:, None] + np.arange(5)]
        # without a radius an arc is a straight line (SVG 2, section 9.5.1)
        round_ = (arguments[:, 0] != 0) & (arguments[:, 1] != 0)
        # so is, to rounding, a short arc of a radius without measure
        least = np.abs(arguments[:, 0:2]).min(axis=1)
        flat = self.gap[arc].sum(axis=1) < 1e-7 * least
        round_ &= ~(flat & (arguments[:, 3] == 0))
        arc, arguments = arc[round_], arguments[round_]
        self.data[arc] = centre_arcs(self.start[arc], arguments, self.end[arc])
        self.kind[arc] = ARC
