"""What the rule table is known to give: a change of the table that changes it must be meant.

`kerblight prove` prints what it found and falls short where it is not what stands here: look at what
changed, then write the new one down.
"""

from __future__ import annotations

PINNED = {
    "1×1×1": "505623a1d3daf1d8-d087b39c52a66d65",
    "1×1×2": "a70f1eb8410ae265-72f234de3c5b3fad",
    "1×2×1": "e612439436a917e4-37053ba24d9ad33e",
    "1×2×2": "fcfffbea092a05bb-2787be1059830777",
    "2×2×2": "c972440253aecbdd-272e411e44e8926d",
    "3×2×1": "c8dbd6368b7ff9c0-17dff5390414da7e",
}
"""Sectors × karts × posts -> digest of all states, and of all transitions."""
KILLED_AT_LEAST = 894
"""Mutants of the table that a property kills."""
