"""Functions of PDF, as ISO 32000-1 (section 7.10) defines them.

They lead from the numbers of a tint to those of the colour space below it. A table is
read at its nearest entry. In programs all numbers are floats, so that none grows.
"""

from __future__ import annotations

import math
import operator
import re
from typing import TYPE_CHECKING, Any

import pikepdf

if TYPE_CHECKING:
    from collections.abc import Callable

    Numbers = list[float]
    Function = Callable[[Numbers], Numbers]


BROKEN = (
    getattr(pikepdf, "PikepdfError", pikepdf.PdfError),  # above the others from 10 on
    TypeError, ValueError, KeyError, IndexError, AttributeError, ArithmeticError,
    NotImplementedError, RuntimeError,
)  # fmt: skip
"""What pikepdf raises, or may raise, on objects that are not what they should be."""
_MOST_BYTES = 1_000_000
_MOST_WORDS = 2_000  # of a program, which has no loops
_MOST_DEEP = 8


def read_function(value: Any, depth: int = 0) -> Function:
    """Return a function of the file as one of Python; from numbers to numbers.

    `depth`: how many functions it stands in. Raises `ValueError` if it is not
    understood.
    """
    kind = int(value.get("/FunctionType", -1))
    domain, bounds = _pairs(value.get("/Domain", [])), _pairs(value.get("/Range", []))
    if depth > _MOST_DEEP or not domain:
        raise ValueError
    inner = _KINDS[kind](value, domain, bounds, depth)

    def _clamped(numbers: Numbers) -> Numbers:
        found = inner(_held(numbers, domain))
        return _held(found, bounds) if bounds else found

    return _clamped


def _numbers(values: Any) -> Numbers:
    return [float(v) for v in values]


def _pairs(values: Any) -> list[tuple[float, float]]:
    numbers = _numbers(values)
    return list(zip(numbers[::2], numbers[1::2], strict=True))


def _held(numbers: Numbers, bounds: list[tuple[float, float]]) -> Numbers:
    return [
        min(max(v, low), high)
        for v, (low, high) in zip(numbers, bounds, strict=False)
    ]  # fmt: skip


def _between(v: float, a: float, b: float, c: float, d: float) -> float:
    return c if a == b else c + (v - a) * (d - c) / (b - a)


def _bytes(value: Any) -> bytes:
    if len(value.read_raw_bytes()) > _MOST_BYTES // 10:
        raise ValueError
    data = bytes(value.read_bytes())
    if len(data) > _MOST_BYTES:
        raise ValueError
    return data


_Pairs = list[tuple[float, float]]


def _sampled(value: Any, domain: _Pairs, bounds: _Pairs, depth: int) -> Function:
    sizes = [int(v) for v in value["/Size"]]
    encode = _pairs(value.get("/Encode", [v for n in sizes for v in (0, n - 1)]))
    decode = _pairs(value["/Decode"]) if "/Decode" in value else bounds
    bits, parts, data = int(value["/BitsPerSample"]), len(bounds), _bytes(value)
    if bits not in {8, 16, 24, 32} or min(sizes) < 1:
        raise ValueError
    most, wide = 2**bits - 1, bits // 8

    def function(numbers: Numbers) -> Numbers:
        at, step = 0, 1
        for v, size, (a, b), (c, d) in zip(
            numbers, sizes, domain, encode, strict=True
        ):  # fmt: skip
            at += step * min(max(round(_between(v, a, b, c, d)), 0), size - 1)
            step *= size
        first = at * parts * wide
        raw = [data[first + k * wide :][:wide] for k in range(parts)]
        return [
            _between(int.from_bytes(word), 0, most, low, high)
            for word, (low, high) in zip(raw, decode, strict=True)
        ]

    return function


def _power(value: Any, domain: _Pairs, bounds: _Pairs, depth: int) -> Function:
    low, high = _numbers(value.get("/C0", [0])), _numbers(value.get("/C1", [1]))
    n = float(value.get("/N", 1))
    return lambda x: [a + x[0] ** n * (b - a) for a, b in zip(low, high, strict=True)]


def _stitched(value: Any, domain: _Pairs, bounds: _Pairs, depth: int) -> Function:
    parts = [read_function(part, depth + 1) for part in value["/Functions"]]
    cuts, encode = _numbers(value["/Bounds"]), _pairs(value["/Encode"])
    stops = [domain[0][0], *cuts, domain[0][1]]
    if len(parts) != len(cuts) + 1 or len(encode) != len(parts):
        raise ValueError

    def function(numbers: Numbers) -> Numbers:
        k = sum(numbers[0] >= cut for cut in cuts)
        return parts[k]([_between(numbers[0], stops[k], stops[k + 1], *encode[k])])

    return function


def _program(value: Any, domain: _Pairs, bounds: _Pairs, depth: int) -> Function:
    words = re.findall(rb"[{}]|[^\s{}]+", re.sub(rb"%[^\r\n]*", b" ", _bytes(value)))
    if len(words) > _MOST_WORDS:
        raise ValueError
    inside: list[list[Any]] = [[]]
    for word in words:
        if word == b"{":
            inside.append([])
        elif word == b"}":
            inside[-2].append(inside.pop())
        else:
            known = word in _TWO or word in _ONE or word in _STACK
            inside[-1].append(word if known else float(word))
    ((program,),) = inside

    def function(numbers: Numbers) -> Numbers:
        stack: list[Any] = list(numbers)
        _run(program, stack)
        return _numbers(stack[-len(bounds) :])

    return function


def _plain(value: Any) -> bool | float:
    return value if isinstance(value, bool) else float(value)


def _bitwise(on_bits: Any) -> Any:
    # on truth values as on whole numbers
    return lambda a, b: on_bits(int(a), int(b))


_TWO: dict[bytes, Any] = {
    b"add": operator.add, b"sub": operator.sub, b"mul": operator.mul,
    b"div": operator.truediv, b"idiv": lambda a, b: math.trunc(a / b),
    b"mod": math.fmod, b"exp": operator.pow, b"eq": operator.eq, b"ne": operator.ne,
    b"gt": operator.gt, b"ge": operator.ge, b"lt": operator.lt, b"le": operator.le,
    b"and": _bitwise(operator.and_), b"or": _bitwise(operator.or_),
    b"xor": _bitwise(operator.xor),
    b"atan": lambda a, b: math.degrees(math.atan2(a, b)) % 360,
    b"bitshift": lambda a, b: a * 2.0**b if b > 0 else a // 2.0**-b,
}  # fmt: skip
_ONE: dict[bytes, Any] = {
    b"abs": abs, b"neg": operator.neg, b"ceiling": math.ceil, b"floor": math.floor,
    b"round": lambda a: math.floor(a + 0.5), b"truncate": math.trunc,
    b"cvi": math.trunc, b"cvr": float, b"sqrt": math.sqrt, b"ln": math.log,
    b"log": math.log10, b"sin": lambda a: math.sin(math.radians(a)),
    b"cos": lambda a: math.cos(math.radians(a)),
    b"not": lambda a: not a if isinstance(a, bool) else ~int(a),
}  # fmt: skip
_STACK = frozenset(
    {b"dup", b"exch", b"pop", b"copy", b"index", b"roll", b"if", b"ifelse"}
    | {b"true", b"false"}
)


def _run(program: list[Any], stack: list[Any]) -> None:
    pop, push = stack.pop, stack.append
    for word in program:
        if not isinstance(word, bytes):
            push(word)
        elif word in _TWO:
            b, a = pop(), pop()
            push(_plain(_TWO[word](a, b)))
        elif word in _ONE:
            push(_plain(_ONE[word](pop())))
        elif word in (b"true", b"false"):
            push(word == b"true")
        elif word == b"dup":
            push(stack[-1])
        elif word == b"exch":
            stack[-2:] = stack[-1], stack[-2]
        elif word == b"pop":
            pop()
        elif word == b"index":
            push(stack[-1 - int(pop())])
        elif word == b"copy":
            n = int(pop())
            stack.extend(stack[len(stack) - n :])
        elif word == b"roll":
            j, n = int(pop()), int(pop())
            last = stack[len(stack) - n :]
            stack[len(stack) - n :] = last[-j % n :] + last[: -j % n]
        else:
            other = pop() if word == b"ifelse" else []
            first = pop()
            _run(first if pop() else other, stack)
        if len(stack) > _MOST_WORDS:
            raise ValueError


_KINDS = {0: _sampled, 2: _power, 3: _stitched, 4: _program}
