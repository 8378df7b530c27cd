"""Runs of like elements are read as if each element came alone."""

from __future__ import annotations

import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fillwork.errors import FillworkError, ReadError
from fillwork.readers import limits, read_linework
from fillwork.readers.svg import read
from fillwork.readers.svg.shapes.runs import lift_runs

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="90mm" viewBox="0 0 90 90">'
GROUP = '<g stroke="black" fill="none">'


def lines(count, form='<line x1="{}" y1="1" x2="{}" y2="8.5e0"/>\n'):
    return "".join(form.format(k, k + 0.5) for k in range(count))


def one_by_one(monkeypatch, data):
    with monkeypatch.context() as patch:
        patch.setattr(read, "lift_runs", lambda data: (data, {}))
        return read_linework(data)


def same_as_one_by_one(monkeypatch, text):
    """Return what is read, after a comparison with the reading without runs."""
    data = text if isinstance(text, bytes) else text.encode()
    fast = read_linework(data)
    slow = one_by_one(monkeypatch, data)
    np.testing.assert_array_equal(fast.curves.data, slow.curves.data)
    np.testing.assert_array_equal(fast.curves.kind, slow.curves.kind)
    np.testing.assert_array_equal(fast.source_line, slow.source_line)
    np.testing.assert_array_equal(fast.closed, slow.closed)
    np.testing.assert_array_equal(fast.style, slow.style)
    assert fast.source_name == slow.source_name
    assert fast.styles == slow.styles
    assert fast.notes == slow.notes
    assert fast.groups == slow.groups
    return fast


BODIES = {
    "lines": lines(40),
    "with ids": lines(40, '<line id="side{}" x1="{}" y1="0" x2="2" y2="3"/>'),
    "an empty id": lines(40, '<line id="" x1="{}" y1="0" x2="{}" y2="3"/>'),
    "closing tags": lines(40, '<line x1="{}" y1="0" x2="{}" y2="3"></line> '),
    "broken in lines": lines(40, '<line\n x1="{}"\r\n y1="0" x2="{}"\r y2="3" />\n\n'),
    "another order": lines(40, '<line y1="{}" x1="0" x2="{}" y2="3"/>'),
    "one end left out": lines(40, '<line x1="{}" x2="{}" y2="3"/>'),
    "own stroke": lines(40, '<line stroke="red" x1="{}" y1="0" x2="{}" y2="3"/>'),
    "moved": lines(40, '<line transform="scale(2)" x1="{}" y1="0" x2="{}" y2="3"/>'),
    "hidden": lines(40, '<line display="none" x1="{}" y1="0" x2="{}" y2="3"/>'),
    "styled": lines(40, '<line style="stroke-width:2" x1="{}" y1="0" x2="{}" y2="3"/>'),
    "two sorts in turn": lines(20) + lines(20, '<circle cx="{}" cy="{}" r="3"/>'),
    "huge": lines(40, '<line x1="{}" y1="0" x2="{}" y2="1' + "0" * 400 + '"/>'),
    "circles": lines(40, '<circle cx="{}" cy="{}" r="3"/>'),
    "some radii nought": lines(40, '<circle r="{}" cx="{}" cy="3"/>'),
    "size set by style": lines(40, '<circle style="r:9px" cx="{}" cy="{}" r="3"/>'),
    "rectangles": lines(40, '<rect x="{}" y="{}" width="10%" height="1cm"/>'),
    "paths": lines(40, '<path d="M{} 3 l {} 4 c 1 2 3 4 5 6z"/>'),
    "broken paths": lines(40, '<path d="M{} 3 L {} 4 L x"/>'),
    "polygons": lines(40, '<polygon points="{} 1 {} 8 9 9"/>'),
    "with units": lines(40, '<line x1="{}mm" y1="{}%" x2="2" y2=" 3 "/>'),
    "ends beyond all bounds": lines(40, '<line x1="{}e400" y1="{}" x2="2" y2="3"/>'),
    "named apart": lines(40, '<path inkscape:label="ü" d="M{} 3 l {} 4"/>'),
}


@pytest.mark.parametrize("name", list(BODIES))
def test_a_run_is_read_as_its_elements_are(monkeypatch, name):
    text = f"{HEAD}{GROUP}{BODIES[name]}<line x2='50'/></g></svg>"
    same_as_one_by_one(monkeypatch, text)
    assert sum(run.count for run in lift_runs(text.encode())[1].values()) >= 39


def test_the_places_of_ends_and_lines_of_the_file():
    work = read_linework(f"{HEAD}\n{GROUP}\n{lines(40)}</g></svg>".encode())
    assert work.stroke_count == 40
    # 1 px is 1 mm here, and y runs up from the lower edge of 90 mm
    np.testing.assert_allclose(
        work.curves.data[:, :4],
        [[k, 89.0, k + 0.5, 81.5] for k in range(40)],
        atol=1e-9,
    )
    assert work.source_line.tolist() == list(range(3, 43))


@pytest.mark.parametrize(
    "around",
    [
        "<!-- {} -->",
        "<defs>{}</defs>",
        "<text><![CDATA[ {} ]]></text>",
        "<g display='none'>{}</g>",
        "<switch><g/>{}</switch>",
        "<switch>{}</switch>",
        "<symbol id='s'>{}</symbol><use href='#s' x='3'/>",
        "<g id='s'>{}</g><use href='#s' x='3'/>",
        "<g transform='rotate(10)' clip-path='url(#c)'>{}</g>"
        "<clipPath id='c'><rect width='9' height='5'/></clipPath>",
        "<style>line {{ stroke: red }}</style>{}",
        "<unknown>{}</unknown>",
    ],
)
def test_where_a_run_stands_decides(monkeypatch, around):
    body = around.format(lines(40))
    same_as_one_by_one(
        monkeypatch, f"{HEAD}<g stroke='black'>{body}<line y2='60'/></g></svg>"
    )


def test_errors_further_down_keep_their_place():
    text = f"{HEAD}{GROUP}\n{lines(40)}<line x1='3'></g></svg>"
    with pytest.raises(ReadError, match="line 42") as caught:
        read_linework(text.encode())
    with pytest.raises(ReadError) as other:
        read_linework(text.replace('"1"', "'1'").encode())
    assert caught.value.where == other.value.where


def test_errors_on_the_same_line_keep_their_column(monkeypatch):
    text = f"{HEAD}{GROUP}" + lines(40, '<line x1="{}" y2="{}" title="ü"/>') + "<g x=/>"
    places = []
    for lift in (read.lift_runs, lambda data: (data, {})):
        monkeypatch.setattr(read, "lift_runs", lift)
        with pytest.raises(ReadError) as caught:
            read_linework(text.encode())
        places.append(caught.value.where)
    assert places[0] == places[1]
    assert "line 1, column" in places[0]


def test_elements_that_clips_concern_are_counted_once(monkeypatch):
    body = lines(40, '<line clip-path="url(#no)" x1="{}" y1="0" x2="{}" y2="3"/>')
    work = same_as_one_by_one(monkeypatch, f"{HEAD}{GROUP}{body}</g></svg>")
    assert any("39 more" in note.text for note in work.notes)


@pytest.mark.parametrize(
    "form",
    [
        '<line x1="{}" x1="{}"/>',
        '<line x1="{}" 1a="{}"/>',
        '<line x1="{}" y2="{}\x01"/>',
        '<line x1="{}"y2="{}"/>',
        '<line x1="{}" y2="{}" class="a<b"/>',
    ],
)
def test_what_is_not_well_formed_is_still_refused(form):
    with pytest.raises(FillworkError):
        read_linework(f"{HEAD}{GROUP}{lines(40, form)}</g></svg>".encode())


def test_bytes_that_are_no_text_are_still_refused():
    data = f"{HEAD}{GROUP}{lines(40, '<line id=`p{}` x1=`{}` y2=`9`/>')}</g></svg>"
    data = data.replace("`", '"').encode().replace(b"p7", b"\xff7")
    with pytest.raises(FillworkError):
        read_linework(data)


def test_a_run_alone_is_no_drawing():
    with pytest.raises(FillworkError, match="outermost"):
        read_linework(lines(40).encode())


def test_too_many_elements_in_runs_are_refused(monkeypatch):
    data = f"{HEAD}{GROUP}{lines(80)}</g></svg>".encode()
    monkeypatch.setattr(limits, "NORMAL", limits.Limits(elements=80))
    assert read_linework(data).stroke_count == 80
    monkeypatch.setattr(limits, "NORMAL", limits.Limits(elements=79))
    with pytest.raises(FillworkError, match="more than 79 shapes"):
        read_linework(data)


@pytest.mark.parametrize("count", [16, 20, 31, 255, 256, 257, 300, 511, 530, 5_000])
def test_runs_of_every_length_hold_whole_elements(monkeypatch, count):
    # Python 3.11.0 to 3.11.4 end a group under a possessive quantifier anywhere
    for form in ('<path id="p{}" d="M{} 3 L 8 9"/> ', '<line y2="{}" x1="{}"/>\n'):
        body = "".join(form.format(k % 80, k % 79 + 0.5) for k in range(count))
        text = f"{HEAD}{GROUP}{body}</g></svg>"
        assert [run.count for run in lift_runs(text.encode())[1].values()] == [count]
        assert same_as_one_by_one(monkeypatch, text).stroke_count == count


@pytest.mark.parametrize(
    "text",
    [
        f"{GROUP}<!--{lines(20)}<line id='-->{lines(20)}</g>",
        f'{GROUP}<!--{lines(20)}<line id="-->{lines(20)}<!-- "/> -->{lines(20)}</g>',
        f'{GROUP}<![CDATA[{lines(40, """<line id="]]>{}" x1="{}"/>""")}]]></g>',
        f'<?work {lines(40, """<line id="?>{}" x1="{}"/>""")}?>{GROUP}{lines(9)}</g>',
    ],
)
def test_what_ends_a_comment_inside_a_run_is_seen(monkeypatch, text):
    same_outcome(monkeypatch, f"{HEAD}{text}</svg>".encode())


def test_attributes_that_a_document_type_adds_are_taken(monkeypatch):
    head = '<!DOCTYPE svg [<!ATTLIST line stroke CDATA "red" id NMTOKEN #IMPLIED>]>'
    body = lines(40, '<line id=" s{} " x1="{}" y1="0" x2="2" y2="3"/>')
    work = same_as_one_by_one(monkeypatch, f"{head}{HEAD}{body}</svg>")
    assert work.stroke_count == 40
    assert work.source_name[0] == "line#s0"


def same_outcome(monkeypatch, data):
    outcomes = []
    for reader in (read_linework, lambda data: one_by_one(monkeypatch, data)):
        try:
            outcomes.append(("read", reader(data).stroke_count))
        except FillworkError as error:
            outcomes.append((str(error.what), str(error.where)))
    assert outcomes[0] == outcomes[1]
    if outcomes[0][0] == "read":
        same_as_one_by_one(monkeypatch, data)


WORDS = [
    *(
        "",
        "1",
        "-2.5",
        ".5e1",
        "7mm",
        "1e999",
        "M1 2L3 4",
        "0 0 9 0 9 9",
        "red",
        "none",
    ),
    *(
        "--",
        "-->",
        "<!--",
        "]]>",
        "<![CDATA[",
        "?>",
        "&#49;",
        "&no;",
        "'",
        '"',
        "<",
        ">",
    ),
    *(
        "/>",
        "<line",
        "\t3",
        "\n4\n",
        "\r\n",
        "\x0b",
        "\uffff",
        "ü",
        "\U0001f58c",
        "\x01",
    ),
]
KEYS = ["x1", "y1", "x2", "id", "d", "points", "r", "stroke", "class", "style", "x1"]
VALUES = st.one_of(st.integers(-99, 99).map(str), st.sampled_from(WORDS))


@st.composite
def bodies(draw):
    """Draw stretches of like elements, some spoilt, some inside something else."""
    out = []
    for _ in range(draw(st.integers(1, 4))):
        tag = draw(st.sampled_from(["line", "path", "polygon", "circle", "svg:line"]))
        keys = draw(st.lists(st.sampled_from(KEYS), min_size=1, max_size=4))
        room = draw(st.sampled_from([" ", "\n", "  ", "\r\n", "\t", "\x0b", ""]))
        close = draw(st.sampled_from(["/>", " />", f"></{tag}>", "/>\n", "/>x", ">"]))
        plain = [str(draw(st.integers(0, 60))) for _ in keys]
        spoilt = draw(st.dictionaries(st.integers(0, 39), VALUES, max_size=2))
        every = draw(st.sampled_from(["", *WORDS]))
        stretch = ""
        for k in range(draw(st.sampled_from([1, 15, 16, 40]))):
            values = [spoilt.get(k, f"{every}{value}") for value in plain]
            words = [
                f'{key}="{value}"' for key, value in zip(keys, values, strict=True)
            ]
            stretch += f"<{tag}{room or ' '}{(room or ' ').join(words)}{close}"
        around = draw(
            st.sampled_from(
                ["{}", "{}", "<!--{}-->", "<![CDATA[{}]]>", "<g>{}</g>", "<?a {}?>"]
            )
        )
        out.append(around.replace("{}", stretch))
    return "".join(out)


@settings(max_examples=150)
@given(bodies())
def test_any_run_is_read_or_refused_as_its_elements_are(body):
    with pytest.MonkeyPatch.context() as patch:
        same_outcome(patch, f"{HEAD}{GROUP}{body}<line y2='6'/></g></svg>".encode())


@pytest.mark.parametrize(
    "unit",
    [
        '<line x1="1"', "<line ", "<line  x1", '<line x1="', '<line x1="1" />x',
        "<path\n", "1" * 5 + "-", '" ', '<line x1="1" y1="{}"/>', 'x="" ',
        '<line id="{}"/>\n ',
    ],
)  # fmt: skip
def test_the_time_is_linear_in_the_text(unit):
    def seconds(count):
        middle = "".join(unit.replace("{}", str(k)) for k in range(count))
        texts = [f"<line {middle}", f'<line x1="{middle}', f'<line id="a" {middle}/>']
        begin = time.process_time()
        for text in texts:
            lift_runs(text.encode())
        return time.process_time() - begin

    least = [min(seconds(count) for _ in range(3)) for count in (10_000, 80_000)]
    assert least[1] < 24 * max(least[0], 0.002)  # eight times the text, and noise
