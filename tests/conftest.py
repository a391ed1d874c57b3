"""What all tests share: the command line called in this process, and how many cases Hypothesis draws.

Hypothesis draws the same cases on every run of continuous integration, and new ones on a contributor's machine.
"""

from __future__ import annotations

import os

import pytest
from hypothesis import settings

from plumeline.cli import main

settings.register_profile("steady", derandomize=True, deadline=None)
settings.register_profile("searching", deadline=None)
settings.load_profile("steady" if os.environ.get("CI") else "searching")

os.environ["PLUMELINE_CACHE"] = ""  # no test may be quick, or right, because of what an earlier one kept


@pytest.fixture
def run(capsys):
    """Call the command line and return its exit code, what it printed and what it complained of."""

    def call(*arguments):
        with pytest.raises(SystemExit) as leave:
            main([str(a) for a in arguments])
        told = capsys.readouterr()
        return leave.value.code, told.out, told.err

    return call
