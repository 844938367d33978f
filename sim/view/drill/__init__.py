"""Drills in the window: choose, read the briefing, play, pause, see the score, replay, again."""
