"""One sitting with a plan: change it, see at once what the change does, take it back; the file stays the truth.

A `Sitting` knows nothing of a browser. It holds the plan's text, fills the zones that a change touches while the
caller waits, and joins and measures the whole in the background, where the newest change wins.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path as FilePath
from types import TracebackType
from typing import Any, Self, TypeAlias

from .alike import alike_spaces
from .errors import InputError, PlanError, PlumelineError
from .film import Mark, with_marks
from .model import Filled, Patch, Zone
from .pipeline.aside import Aside, Stopped
from .pipeline.layers import check_fills
from .plan import (
    Plan,
    edit_plan,
    parse_plan,
    with_division,
    with_fill,
    with_option,
    with_own_zone,
    with_zone,
)
from .planfile import PlanFile
from .quilt import Drawn, Each, Kept, Progress, Quilt, draw, finish, read_top
from .standing import Seen, Standing
from .steps import Changes, Steps, Superseded

__all__ = ["Fills", "PlanChangedError", "Seen", "Sitting"]

Fills: TypeAlias = Mapping[str, Mapping[str, Sequence[Mapping[str, Any]]]]
"""Stacks of fills by zone and part, as `Plan.fills` and `IdeaSet.fills` hold them."""

LOOK_SECONDS = 0.5
"""How often the file is looked at: quick enough to feel at once, and no load."""

SHOWN_SECONDS = 0.7
"""How often what is filled so far is shown while a plan is opened."""


class PlanChangedError(PlanError):
    """The file was changed elsewhere since it was last read here: nothing was written."""


class Sitting:
    """A plan that is worked at.

    Parameters
    ----------
    plan : path
        The plan's file. Every change is written to it whole; how it was when she sat down is kept beside it as
        ``NAME.bak``.
    option : str, optional
        The option that is looked at and changed; None: the plan as it stands.
    workers : int
        Processes that fill zones side by side.
    kept : Kept, optional
        What was filled before; None: a memory of this sitting alone.
    aside : bool
        Whether lines are joined in a process of its own, so that nothing she does waits for it. A script that says
        so needs the usual ``if __name__ == "__main__":``.

    Attributes
    ----------
    looking : str
        Label of the space that she looks at: of what a change touches it is filled and shown first.

    Examples
    --------
    ::

        with Sitting("plain-and-star.toml") as sitting:
            sitting.choose("big stars", [{"kind": "spiral", "spacing": "1/2"}])
            sitting.undo()
            quilt = sitting.wait()

    Raises
    ------
    PlanError
        The file can't be read. What is wrong inside it is no reason to stop: `Seen.error` says it.
    """

    def __init__(
        self,
        plan: str | FilePath,
        *,
        option: str | None = None,
        workers: int = 1,
        kept: Kept | None = None,
        aside: bool = False,
    ) -> None:
        self.looking = ""
        self._aside = Aside(_finish) if aside else None
        self._plan_file = PlanFile(plan)
        self.file = self._plan_file.path
        self.kept = kept if kept is not None else Kept()
        self._workers, self._option = workers, option
        self._lock = threading.RLock()
        self._stands = Standing()
        self._changes = Changes(self._take, self._has_spaces_as_now, self._lock)
        self._look_thread: threading.Thread | None = None
        self._take_first()
        self._joiner = threading.Thread(target=self._join_on, name="plumeline-join", daemon=True)
        self._joiner.start()

    # -- how things stand ---------------------------------------------------------------------------------------

    @property
    def seen(self) -> Seen:
        """How things stand now."""
        return self._stands.seen

    @property
    def drawn(self) -> Drawn:
        """The filled zones of the newest good text.

        Raises
        ------
        InputError
            They are not there yet.
        """
        if self.seen.drawn is None:
            raise InputError("the quilt is not drawn yet", what_to_do="Wait until it is.")
        return self.seen.drawn

    @property
    def can_undo(self) -> bool:
        """Whether there is a change to take back."""
        return bool(self._changes.steps.back)

    @property
    def can_redo(self) -> bool:
        """Whether there is a change to do again."""
        return bool(self._changes.steps.forth)

    @property
    def option(self) -> str | None:
        """The option that is looked at, or None."""
        return self._option

    def listen(self, tell: Callable[[Seen], None]) -> Callable[[], None]:
        """Have a function told of everything new, from whichever thread.

        Parameters
        ----------
        tell : callable
            Gets how things stand; it should return soon.

        Returns
        -------
        callable
            Ends it.
        """
        return self._stands.listen(tell)

    def wait(self, *, seconds: float | None = None) -> Quilt:
        """Wait until the newest change is joined and measured, and return the quilt.

        Parameters
        ----------
        seconds : float, optional
            So long at most; without end when left out.

        Returns
        -------
        Quilt
            With its report.

        Raises
        ------
        TimeoutError
            It took longer than ``seconds``.
        InputError
            The plan can't be stitched; the message says why.
        """
        if not self._stands.wait_for(lambda seen: not seen.busy, seconds):
            raise TimeoutError(f"the quilt is not ready after {seconds} s")
        seen = self.seen
        if seen.quilt is None or seen.error:
            raise InputError(seen.error or "the sitting was closed before the quilt was ready")
        return seen.quilt

    # -- changes ------------------------------------------------------------------------------------------------

    def change(self, edit: Mapping[Sequence[str], Any] | str, *, over: bool = False) -> Seen:
        """Change the plan: check it, fill what it touches, write the file; return how things stand.

        A change that comes while zones are still filled for the one before stops that, and both are filled together;
        each stays a step of its own.

        Parameters
        ----------
        edit : mapping or str
            Values by key path as `plan.edit_plan` takes them, or the whole new text.
        over : bool
            Write even when the file was changed elsewhere; that text can be had back with `undo`.

        Returns
        -------
        Seen
            How things stand; a newer quilt is on its way.

        Raises
        ------
        PlanChangedError
            The file was changed elsewhere; call `look` to take that up, or say ``over``.
        InputError
            The changed plan can't be used. Nothing was written and everything stands as before.
        """
        if isinstance(edit, str):
            return self._changed(lambda _: edit, over)
        return self._changed(lambda text: edit_plan(text, edit, file=self.file.name), over)

    def choose(
        self,
        zone: str,
        stack: Sequence[Mapping[str, Any]],
        *,
        part: str = "",
        also: Sequence[str] = (),
        over: bool = False,
    ) -> Seen:
        """Put a fill, or a stack of them, into a zone or one of its parts, and ``also`` into others; see `change`."""

        def edit(text: str) -> str:
            for name in (zone, *also):
                text = with_fill(text, name, stack, part=part, option=self._option, file=self.file.name)
            return text

        return self._changed(edit, over)

    def keep_as(self, name: str, *, fills: Fills | None = None, over: bool = False) -> Seen:
        """Keep what every zone is quilted with now as an option of that name, or other ``fills``; see `change`."""

        def edit(text: str) -> str:
            kept = self._planned(text).fills if fills is None else fills
            return with_option(text, name, kept, file=self.file.name)

        return self._changed(edit, over)

    def draw_on_film(self, zone: Zone, marks: Sequence[Mark], *, over: bool = False) -> Seen:
        """Draw the marks of one of the spaces anew, and those of all like it in its zone; see `change`."""
        return self._changed(lambda text: with_marks(text, self.drawn, zone, marks, file=self.file.name), over)

    def part_off(self, zone: Zone, name: str, *, alike: bool = False, over: bool = False) -> Seen:
        """Make one space of a zone a zone of its own, quilted as the others are; see `change`.

        With ``alike`` all spaces of that zone that have its shape, turned or mirrored, go into the new zone.
        """

        def edit(text: str) -> str:
            top = self.drawn.top
            spaces = alike_spaces(self.drawn, zone) if alike else [zone]
            inside = [p.name for p in top.patches if any(_lies_in(space, p) for space in spaces)]
            every = [patch.name for patch in top.patches]
            several, file = len(spaces) > 1, self.file.name
            return with_own_zone(text, zone.name, name, inside, every=every, several=several, file=file)

        return self._changed(edit, over)

    def join(self, name: str, patches: Sequence[str], *, over: bool = False) -> Seen:
        """Join patches into one zone of that name, out of the zones that held them; see `change`."""

        def edit(text: str) -> str:
            drawn = self.seen.drawn
            every = [patch.name for patch in drawn.top.patches] if drawn else []
            return with_zone(text, name, patches, every=every, file=self.file.name)

        return self._changed(edit, over)

    def divide(self, zone: str, steps: Sequence[Mapping[str, Any]], *, over: bool = False) -> Seen:
        """Divide a zone anew, or make it whole with no steps; see `change`."""
        return self._changed(lambda text: with_division(text, zone, steps, file=self.file.name), over)

    def undo(self, *, over: bool = False) -> Seen:
        """Take the last change back; nothing happens when there is none; see `change`."""
        return self._stepped(Steps.undone, over)

    def redo(self, *, over: bool = False) -> Seen:
        """Do again what was taken back last; nothing happens when there is nothing; see `change`."""
        return self._stepped(Steps.redone, over)

    def look_at(self, option: str | None) -> Seen:
        """Look at another option of the plan, or with None at the plan as it stands.

        Parameters
        ----------
        option : str or None
            Its name.

        Returns
        -------
        Seen
            How things stand.

        Raises
        ------
        PlanError
            The plan has no such option.
        """
        with self._lock:
            before, self._option = self._option, option
            try:
                drawn = self._draw(self.seen.text)
            except InputError:
                self._option = before
                raise
            return self._stands.set(drawn=drawn, busy=True, error="")

    # -- the file -----------------------------------------------------------------------------------------------

    def look(self) -> bool:
        """Look at the file, and take up what was changed in it elsewhere.

        A text that can't be used is not taken up: `Seen.error` says what and where, and the last good quilt stays.

        Returns
        -------
        bool
            Whether there was anything.
        """
        with self._lock:
            try:
                now = self._plan_file.read()
            except PlanError as error:
                self._stands.set(error=str(error))
                return False
            if now == self._plan_file.seen:
                return False
            self._plan_file.seen = now
            try:
                text = self._plan_file.text_of(now)
                drawn = self._with_option_there(text, self._draw)
            except InputError as error:
                self._stands.set(error=str(error))
                return True
            self._changes.steps = self._changes.steps.changed(text)
            self._stands.set(text=text, drawn=drawn, top=drawn.top, error="", busy=True)
            return True

    def watch(self) -> None:
        """Look at the file every half second, until the sitting is closed."""
        if self._look_thread is None:
            self._look_thread = threading.Thread(target=self._look_on, name="plumeline-look", daemon=True)
            self._look_thread.start()

    def close(self) -> None:
        """End the sitting. Every change is in the file already."""
        self._stands.end()
        if self._aside is not None:
            self._aside.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def quilt_of(self, option: str | None) -> Quilt:
        """Return the quilt with one of the options, joined and measured, without looking at it here.

        Parameters
        ----------
        option : str or None
            Its name; None: the plan as it stands.

        Returns
        -------
        Quilt
            With its report.

        Raises
        ------
        InputError
            There is no such option, or it can't be stitched.
        """
        if option == self._option and self.seen.quilt is not None and not self.seen.busy:
            return self.seen.quilt
        return finish(draw(self._parsed(self.seen.text), option=option, workers=self._workers, kept=self.kept))

    # -- inside -------------------------------------------------------------------------------------------------

    def _take_first(self) -> None:
        try:
            text = self._plan_file.text_of(self._plan_file.seen)
            self._changes.steps = Steps(text)
            self._stands.set(text=text, busy=True)
            self._parsed(text)
        except InputError as error:
            self._stands.set(error=str(error), busy=False)

    def _changed(self, edit: Callable[[str], str], over: bool) -> Seen:
        return self._stepped(lambda steps: steps.changed(edit(steps.text)), over)

    def _stepped(self, edit: Callable[[Steps], Steps], over: bool) -> Seen:
        self._changes.take_up(edit, over=over)
        return self.seen

    def _has_spaces_as_now(self, text: str) -> bool:
        try:
            return self.seen.drawn is not None and _alike_but_fills(self.seen.drawn.plan, self._parsed(text))
        except PlumelineError:
            return False

    def _take(self, steps: Steps, over: bool, hurry: bool) -> None:
        """Check, fill and write a text; with ``hurry`` leave it as soon as something newer is asked for."""
        theirs = self._plan_file.read()
        is_changed = theirs != self._plan_file.seen
        if is_changed and not over:
            raise PlanChangedError(
                "was changed in another program since it was last read here",
                file=self.file.name,
                what_to_do="Take up that change, or write yours over it.",
            )
        drawn = self._with_option_there(steps.text, lambda text: self._redrawn(text, hurry))
        if is_changed:
            steps = self._with_theirs(steps, theirs)
        self._plan_file.write(steps.text)
        self._changes.steps = steps
        self._stands.set(text=steps.text, drawn=drawn, top=drawn.top, error="", busy=True, partial=())

    def _with_option_there(self, text: str, draw_it: Callable[[str], Drawn]) -> Drawn:
        """Draw a text; where the option that she looks at is not in it any more, as the plan stands without it."""
        before = self._option
        if before is not None and before not in self._parsed(text).options:
            self._option = None
        try:
            return draw_it(text)
        except (PlumelineError, Superseded):
            self._option = before
            raise

    def _redrawn(self, text: str, hurry: bool) -> Drawn:
        """Fill what a changed text touches, the space that she looks at first, and show it as it comes."""
        if self._aside is not None:
            self._aside.stop()
        before, newest = self.seen.drawn, self._changes.newest
        touched = _touched(before, self._planned(text))
        if not before or not touched:
            return self._draw(text)

        def look_up(*_: object) -> None:
            if hurry and self._changes.newest is not newest:
                raise Superseded

        show = self._showing(touched)

        def each(zone: Zone, filled: Filled) -> None:
            look_up()
            show(zone, filled)

        labels = [zone.label for zone in (*before.zones, *before.bare) if zone.name in touched]
        first = self.looking if self.looking in labels else next(iter(labels), "")
        try:
            return self._draw(text, each=each, first=first, progress=look_up)
        except PlumelineError:
            self._stands.set(partial=())
            raise

    def _with_theirs(self, steps: Steps, theirs: bytes) -> Steps:
        """Keep a text that is written over among the steps that can be taken back, when it can be read at all."""
        try:
            return steps.over(self._plan_file.text_of(theirs))
        except PlanError:
            self._plan_file.keep(theirs)
            return steps

    def _planned(self, text: str) -> Plan:
        """Return the plan of a text, with the option that is looked at where it has that."""
        plan = self._parsed(text)
        option = self._option
        return plan.with_option(option) if option is not None and option in plan.options else plan

    def _parsed(self, text: str) -> Plan:
        plan = parse_plan(text, file=self.file.name, folder=self.file.parent)
        check_fills(plan)
        return plan

    def _draw(self, text: str, *, progress: Progress | None = None, each: Each | None = None, first: str = "") -> Drawn:
        return draw(
            self._parsed(text),
            option=self._option,
            workers=self._workers,
            kept=self.kept,
            progress=progress,
            each=each,
            first=first,
        )

    def _join_on(self) -> None:
        """Join the newest drawing whenever there is one, until the sitting is closed."""
        while not self._stands.ended:
            self._stands.wait_for(lambda seen: seen.busy)
            if not self._stands.ended:
                self._join_newest()

    def _join_newest(self) -> None:
        drawn: Drawn | None = None
        try:
            with self._lock:
                drawn = self.seen.drawn
                if drawn is None:
                    self._stands.set(top=self.kept.top(self._parsed(self.seen.text), read_top))
                    drawn = self._draw(self.seen.text, progress=self._tell, each=self._showing())
                    self._stands.set(drawn=drawn, top=drawn.top, partial=())
            quilt = self._finished(drawn)
            self._joined(drawn, quilt=quilt, busy=False, doing="")
        except (Superseded, Stopped):
            return
        except PlumelineError as error:
            self._joined(drawn, error=str(error), busy=False, doing="")
        except Exception as fault:
            # whatever it is, she is told, and her next change is joined all the same
            logging.getLogger(__name__).exception("lines could not be joined")
            told = f"lines could not be joined: a fault of the program itself, not of your plan ({fault!r})"
            self._joined(drawn, error=told, busy=False, doing="")

    def _finished(self, drawn: Drawn) -> Quilt:
        def tell(*said: Any) -> None:
            self._only_newest(drawn, *said)

        if self._aside is None:
            return finish(drawn, progress=tell)
        quilt: Quilt = self._aside.run(drawn, tell)
        # what both hold is kept once
        return replace(quilt, plan=drawn.plan, top=drawn.top, zones=drawn.zones)

    def _joined(self, drawn: Drawn | None, **news: Any) -> None:
        with self._lock:
            if self.seen.drawn is drawn:
                self._stands.set(**news)

    def _only_newest(self, drawn: Drawn | None, what: str = "", done: int = 0, every: int = 0) -> None:
        if self._stands.ended or self.seen.drawn is not drawn:
            raise Superseded
        self._tell(what, done, every)

    def _tell(self, what: str, done: int, every: int) -> None:
        """Say what is being done, without a new number: there is nothing new to show."""
        if self._stands.ended:
            raise Superseded
        self._stands.say(f"{what}, {done} of {every}" if every > 1 else what)

    def _showing(self, names: frozenset[str] | None = None) -> Each:
        """Return what takes up each zone as it is filled, the first at once, and shows what there is now and then.

        With ``names`` only zones of these.
        """
        so_far: dict[str, tuple[Zone, Filled]] = {}
        shown = 0.0

        def each(zone: Zone, filled: Filled) -> None:
            nonlocal shown
            if names is not None and zone.name not in names:
                return
            so_far[zone.label] = zone, filled
            if time.monotonic() - shown > SHOWN_SECONDS or len(so_far) == 1:
                self._stands.set(partial=tuple(so_far.values()))
                shown = time.monotonic()

        return each

    def _look_on(self) -> None:
        while not self._stands.ends_within(LOOK_SECONDS):
            self.look()


def _lies_in(space: Zone, patch: Patch) -> bool:
    return bool(space.outline.contains(patch.outline.representative_point()))


def _finish(drawn: Drawn, tell: Progress) -> Quilt:
    """Join and measure, in the process beside this one."""
    return finish(drawn, progress=tell)


def _touched(before: Drawn | None, plan: Plan) -> frozenset[str]:
    """Return the zones whose fill alone is another one; none where spaces or the top itself are."""
    if before is None or not _alike_but_fills(before.plan, plan):
        return frozenset()
    old = before.plan
    return frozenset(spec.name for spec in plan.zones if old.fills.get(spec.name) != plan.fills.get(spec.name))


def _alike_but_fills(old: Plan, new: Plan) -> bool:
    return (old.zones, old.top, old.guides, old.measured) == (new.zones, new.top, new.guides, new.measured)
