"""The short form of the kill script; its long form is run by hand."""

from pathlib import Path
from random import Random

from picture import Picture

from ..examples import IS_LONG
from .kill_screen import Trial, Wrong
from .program import Place


def test_what_the_screen_has_shown_is_never_lost(tmp_path: Path, sample: Place) -> None:
    kills = 20 if IS_LONG else 3
    trial = Trial(tmp_path, Random(1), sample)
    trial.run(kills)
    assert trial.counts["kills"] == kills


def test_an_undone_act_is_recognised_by_a_title_too_long_for_a_line(
    tmp_path: Path, sample: Place
) -> None:
    trial = Trial(tmp_path, Random(4), sample)
    trial.place.change("UPDATE herb SET name = name || ' from the far end of the long wet meadow'")
    with trial.place.started() as terminal:
        hand = trial.hand(terminal)
        while not hand.seen["shake"]:
            hand.shake()
        hand.undo()
    assert hand.seen["undo"] == 1


LOSSES = {
    "a row": "DELETE FROM shake WHERE id = (SELECT max(id) FROM shake)",
    "an action": "UPDATE action SET undone = 1 WHERE id = (SELECT max(id) FROM action)",
}


def test_a_loss_is_noticed(tmp_path: Path, sample: Place) -> None:
    trial = Trial(tmp_path, Random(4), sample)
    with trial.place.started() as terminal:
        hand = trial.hand(terminal)
        while not hand.seen["shake"]:
            hand.shake()
    assert is_right(trial)
    shown, not_noticed = trial.place, []
    for name, loss in LOSSES.items():
        trial.place = shown.copy(tmp_path / name)
        assert is_right(trial)
        trial.place.change(loss)
        if is_right(trial):
            not_noticed.append(name)
    assert not not_noticed


def is_right(trial: Trial) -> bool:
    """Whether the judge accepts what is on disk."""
    try:
        trial.judge(0)
    except Wrong:
        return False
    return True


def test_a_frame_that_is_half_written_is_not_read() -> None:
    picture = Picture(20, 2)
    picture.feed(b"\x1b[1;1H100 mL")
    picture.feed(b"\x1b[?2026h\x1b[1;1H 9")
    assert picture.lines[0] == "100 mL"
    picture.feed(b"9 mL\x1b[?2026l")
    assert picture.lines[0] == " 99 mL"
