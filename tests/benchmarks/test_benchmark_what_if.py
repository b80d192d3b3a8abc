"""The benchmark of small changes asks what it says it asks."""

from pathlib import Path

from benchmarks.plain_aim import PLAIN_AIM
from benchmarks.what_if import changes, table, told
from optimizer.night import Night
from optimizer.reading.load import load_request

REQUEST = Path(__file__).parents[2] / "plans" / "first-night" / "request.toml"


def test_each_change_takes_something_away_and_is_told_in_the_table() -> None:
    request = load_request(REQUEST).request
    aim = request.aim.model_copy(update={**PLAIN_AIM, "time_limit_s": 0.5, "gap": 0.05})
    night = Night(request.model_copy(update={"aim": aim}))
    asked = dict(changes(night))
    assert len(asked) == len(request.targets) + 2
    answers = {change: night.ask(changed) for change, changed in asked.items()}
    names = {target.name for target in request.targets}
    for change, changed in asked.items():
        left = {target.name for target in changed.targets}
        blocked = len(changed.night.blocked) - len(request.night.blocked)
        assert (len(names - left), blocked) in ((1, 0), (0, 1)), change
        assert answers[change].value <= night.bound, change
    runs = [
        {"change": change, "asked": told(each, 1.0), "anew": told(each, 4.0)}
        for change, each in answers.items()
    ]
    lines = table(runs)
    assert all(change in line for change, line in zip(answers, lines[2:], strict=False))
    assert "4.0 times faster than anew in the median" in lines[-1]
