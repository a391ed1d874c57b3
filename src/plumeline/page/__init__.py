"""The page in her own browser, and the one-file page to send; both draw with the modules in ``static``."""

from __future__ import annotations

from .serve import open_page
from .show import show_page

__all__ = ["open_page", "show_page"]
