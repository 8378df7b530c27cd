"""The survey picture."""

from __future__ import annotations

import pytest

from fillwork.pipeline.demo import demo_drawing
from fillwork.pipeline.finish import survey_scene
from fillwork.pipeline.stages import make_survey
from fillwork.renderers.scene import Text
from fillwork.renderers.typeset import default_fonts


@pytest.mark.parametrize("name", ["bench-border", "fountain-medallion"])
def test_every_letter_of_its_words_has_a_shape(name: str) -> None:
    scene = survey_scene(make_survey(demo_drawing(name), name=f"{name}.svg"))
    words = [item.text for item in scene.items if isinstance(item, Text)]
    assert any("group" in text for text in words)
    assert [t for t in words if default_fonts().shape(t).missing] == []
