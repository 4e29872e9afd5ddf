"""Inspect: weigh and squeeze today's sticks, one card each; on paper, and by a label, as well."""

from hangroom_web.pages.inspect.sheet import sheet_pages
from hangroom_web.pages.inspect.short import short_pages
from hangroom_web.pages.inspect.skipping import skip_pages
from hangroom_web.pages.inspect.weighing import inspect_pages

for part in (sheet_pages, short_pages, skip_pages):
    inspect_pages.register_blueprint(part)

__all__ = ["inspect_pages"]
