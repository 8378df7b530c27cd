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
