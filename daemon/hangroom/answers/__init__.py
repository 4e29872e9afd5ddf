"""The daemon's answers to the page's wishes, one file for each kind of wish."""

from hangroom.answers.answering import Answers

__all__ = ["Answers"]
