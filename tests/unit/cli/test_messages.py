"""What is said while work goes on."""

from fillwork.cli import messages


def test_a_stage_is_named_once_and_its_part_after_some_seconds(capsys, monkeypatch):
    now = [0.0]
    monkeypatch.setattr(messages.time, "monotonic", lambda: now[0])
    progress = messages.Progress(silent=True)
    progress._loud = True
    for part in range(10):
        progress(f"searching ({part} %)")
    now[0] += 3.5
    progress("searching (40 %)")
    progress("drawing")
    assert capsys.readouterr().err.splitlines() == [
        "… searching (0 %)",
        "… searching (40 %)",
        "… drawing",
    ]


def test_few_files_that_were_left_are_named_and_of_many_the_first(
    capsys, monkeypatch, tmp_path
):
    from fillwork.pipeline import output

    for many, told in ((5, "0, 1, 2, 3, 4 in"), (6, "0, 1, 2, 3, 4 … in")):
        names = tuple(map(str, range(many)))
        monkeypatch.setattr(output, "left_there", lambda _, names=names: names)
        messages.show_written([tmp_path / "plan.toml"])
        assert f"left  {told} {tmp_path}: " in capsys.readouterr().out


def test_a_note_says_its_place_once(capsys):
    from fillwork.notes import Note

    messages.show_notes(
        [
            Note("readers", "x", "rect in line 3 is odd", source=("rect", 3)),
            Note("readers", "x", "an error", source=("rect", 3)),
        ]
    )
    assert capsys.readouterr().err.splitlines() == [
        "note: rect in line 3 is odd",
        "note: rect, line 3: an error",
    ]
