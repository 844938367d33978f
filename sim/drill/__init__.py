"""Drills: situations a marshal practises, played on the simulated track and scored."""
