"""Hypothesis draws the same cases on every run of continuous integration, and new ones on a contributor's machine."""

from __future__ import annotations

import os

from hypothesis import settings

settings.register_profile("steady", derandomize=True, deadline=None)
settings.register_profile("searching", deadline=None)
settings.load_profile("steady" if os.environ.get("CI") else "searching")

os.environ["PLUMELINE_CACHE"] = ""  # no test may be quick, or right, because of what an earlier one kept
