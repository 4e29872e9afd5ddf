"""Entering what a batch's record holds: one file a concern, each a part of the batches' pages."""

from hangroom_web.pages.batch.actions import action_pages
from hangroom_web.pages.batch.correcting import correcting_pages
from hangroom_web.pages.batch.hanging import hanging_pages
from hangroom_web.pages.batch.labels import label_pages
from hangroom_web.pages.batch.measuring import measuring_pages
from hangroom_web.pages.batch.photos import photo_pages
from hangroom_web.pages.batch.points import point_pages
from hangroom_web.pages.batch.readings import reading_pages
from hangroom_web.pages.batch.recipe import recipe_pages
from hangroom_web.pages.batch.series import series_pages
from hangroom_web.pages.batch.start import start_pages
from hangroom_web.pages.batch.steps import step_pages
from hangroom_web.pages.batch.tasting import tasting_pages

ENTRY_PAGES = (
    *(start_pages, recipe_pages, step_pages, point_pages, series_pages, reading_pages),
    *(hanging_pages, measuring_pages, photo_pages, tasting_pages, correcting_pages),
    *(label_pages, action_pages),
)
