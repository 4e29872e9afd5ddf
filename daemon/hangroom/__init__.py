"""Runs the rooms where snack sticks hang to dry, and keeps the batch's record."""

from importlib.metadata import version

__version__ = version("hangroom")
