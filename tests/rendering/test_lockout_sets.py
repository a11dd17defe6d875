"""Sets drawn with lockouts in them: what they are for is in them."""

from __future__ import annotations

import tomllib

from sample_clips.rendering import make_lockouts
from sample_clips.rendering.scenario import parse_scenario


def test_each_set_has_lockouts_and_sound_ends_and_some_nearly_locked():
    ends = []
    for exercise in make_lockouts.MACHINES:
        for number in (1, 2, 3):
            read = parse_scenario(tomllib.loads(make_lockouts.scenario_text(exercise, number)), "x")
            straightest = [max(rep.lift_end_deg, rep.load_down_end_deg) for rep in read.reps]
            assert any(end > 172 for end in straightest) and any(end < 166 for end in straightest)
            ends += straightest
    assert any(166 <= end <= 169 for end in ends)
