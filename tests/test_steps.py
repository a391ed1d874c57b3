"""Changes that are asked for while an earlier one is taken up: none lost, none spoilt, each a step of its own."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

import pytest

from plumeline.errors import InputError
from plumeline.steps import MOST_STEPS, Changes, Steps, Superseded


class Taking:
    """Takes texts up; the first waits until something newer is asked for, and is left for that."""

    def __init__(self, refuse: str = "?", alter: str = "?") -> None:
        self.refuse = refuse
        self.taken: list[str] = []
        self.begun = threading.Event()
        self.changes = Changes(self.take, lambda text: alter not in text, threading.RLock())
        self.awaited = 1

    def take(self, steps: Steps, over: bool, hurry: bool) -> None:
        if not self.begun.is_set():
            self.begun.set()
            until(lambda: len(self.changes._asked) > self.awaited)
            raise Superseded
        if self.refuse in steps.text:
            raise InputError(f"has {self.refuse}")
        self.taken.append(steps.text)
        self.changes.steps = steps

    def ask(self, *words: str) -> list[BaseException | None]:
        """Ask for a word at the end, one after the other, all while the first is taken up; return what each met."""
        self.awaited = len(words) - 1
        met: list[BaseException | None] = [None] * len(words)
        threads = []
        for k, word in enumerate(words):
            threads.append(threading.Thread(target=self._one, args=(k, word, met)))
            threads[-1].start()
            if k < self.awaited:  # the first is taken up until the last is asked for
                until(lambda many=k + 1: len(self.changes._asked) >= many)
        for thread in threads:
            thread.join(60)
        return met

    def _one(self, k: int, word: str, met: list[BaseException | None]) -> None:
        try:
            self.changes.take_up(lambda steps: steps.changed(f"{steps.text}{word} "), over=False)
        except InputError as error:
            met[k] = error


def until(true: Callable[..., bool]) -> None:
    end = time.monotonic() + 60
    while not true():
        assert time.monotonic() < end
        time.sleep(0.001)


def test_a_newer_change_is_taken_up_together_with_the_one_that_it_finds() -> None:
    taking = Taking()
    assert taking.ask("one", "two", "three") == [None] * 3
    assert taking.taken == ["one two three "]
    assert taking.changes.steps == Steps("one two three ", ("", "one ", "one two "))


@pytest.mark.parametrize("wrong", [0, 1, 2])
def test_one_that_cannot_be_used_spoils_no_other(wrong: int) -> None:
    words = ["one", "two", "three"]
    words[wrong] = "wrong"
    taking = Taking(refuse="wrong")
    assert [isinstance(error, InputError) for error in taking.ask(*words)] == [k == wrong for k in range(3)]
    kept = [word for word in words if word != "wrong"]
    assert taking.changes.steps == Steps(f"{kept[0]} {kept[1]} ", ("", f"{kept[0]} "))


def test_what_is_asked_for_after_spaces_are_altered_waits_for_them() -> None:
    taking = Taking(alter="split")
    assert taking.ask("one", "split", "three") == [None] * 3
    assert taking.taken == ["one split ", "one split three "]


def test_steps_are_taken_back_and_done_again_and_the_oldest_forgotten() -> None:
    steps = Steps("a").changed("b").changed("c")
    assert steps.undone() == Steps("b", ("a",), ("c",)) and steps.undone().redone() == steps
    assert steps.changed("c") is steps and Steps("a").undone() == Steps("a") == Steps("a").redone()
    assert steps.undone().changed("d").redone().text == "d"
    for k in range(MOST_STEPS + 5):
        steps = steps.changed(str(k))
    assert len(steps.back) == MOST_STEPS and steps.back[-1] == str(MOST_STEPS + 3)
