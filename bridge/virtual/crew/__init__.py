"""Crews that work the timetable and the moves of a railway folder by themselves."""
