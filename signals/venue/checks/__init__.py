"""What makes a venue file wrong, beyond the type of a value. Each check reports all it finds.

A check looks only at values that could be read; what could not be read has been reported.
"""

from __future__ import annotations

from collections.abc import Callable

from signals.venue.checks import equipment, limits, names, track
from signals.venue.draft import Draft

CHECKS: tuple[Callable[[Draft], None], ...] = (
    names.ids_are_unique,
    names.ids_are_free,
    names.references_lead_somewhere,
    names.granted_words_are_known,
    names.one_node_each,
    track.runs_as_it_says,
    track.is_as_long_as_a_track,
    track.places_lie_on_it,
    track.sectors_cover_it_once,
    track.pit_lane_joins_it,
    track.loops_agree,
    limits.are_in_order,
    limits.wet_is_no_faster,
    limits.flash_is_regular,
    limits.leases_outlast_beats,
    limits.monitor_trips_in_time,
    limits.slow_heads_are_found_before_they_trip,
    limits.grip_falls,
    equipment.heads_can_show,
    equipment.lamps_tell_aspects_apart,
    equipment.failing_is_safe,
    equipment.a_start_is_shown,
    equipment.somebody_supervises,
    equipment.inputs_act_somewhere,
    equipment.clock_is_known,
)
