"""The cautions that go with every stitch file, stencil and reach sheet."""

from __future__ import annotations

__all__ = ["CAUTIONS", "SHEET_CAUTIONS", "cautions_text"]

CAUTIONS: tuple[str, ...] = (
    "The machine moves by itself: keep hands, hair, tools, clamps and cables out of the whole travel, "
    "and know where its stop is.",
    "Trace the outline, then the whole path with the needle up, before sewing.",
    "A needle can shatter on a ruler, pin, clamp or button: wear eye protection, "
    "use a ruler foot and rulers of the right thickness.",
    "Switch off or lock the machine as its manual says before your hands go near the needle, "
    "to thread it or to change it.",
    "Take all pins out. Never leave the machine running alone, and keep children and pets away.",
    "Test every marker and the tension on the same layers.",
    "Follow the machine's manual, the batting's label and local safety rules; "
    "they override anything this program prints.",
)
"""One sentence or two each, most urgent first."""

SHEET_CAUTIONS = (*CAUTIONS[:2], "Check the scale on the test square first.", *CAUTIONS[2:])
"""The cautions of what carries a test square: full-size drawings and printed sheets."""


def cautions_text(title: str, files: tuple[str, ...] = ()) -> str:
    """Return the text that lies beside stitch files, which can't carry words themselves.

    Parameters
    ----------
    title : str
        Name of the work.
    files : tuple of str
        Names of the files that it goes with.

    Returns
    -------
    str
        Plain text with line breaks, ending in one.
    """
    lines = [title, ""]
    if files:
        lines += [
            "Goes with: " + ", ".join(files) + ".",
            "All sizes are true: 1 mm in the file is 1 mm on the quilt.",
            "",
        ]
    squared = any(name.endswith((".svg", ".pdf")) for name in files)
    lines += ["Read first:", *(f"- {caution}" for caution in (SHEET_CAUTIONS if squared else CAUTIONS))]
    return "\n".join(lines) + "\n"
