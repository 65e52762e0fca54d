"""Measure and teach guitar vibrato: import what you need from the modules."""
