"""Why something is corrected: chosen, or in the keeper's own words."""

from hangroom_web.forms import Form
from hangroom_web.wanted import IN_MY_WORDS, LONGEST_WHY
from hangroom_web.words import _

WHYS = (_("mistyped"), _("measured again"), _("wrong stick or group"))
WHY_CHOICES = [*((why, why) for why in WHYS), (IN_MY_WORDS, _("in my words:"))]


def read_why(form: Form) -> str:
    """Return the reason that was typed or else chosen."""
    chosen = form.raw("because")
    why = form.line("because-words", longest=LONGEST_WHY)
    why = why or ("" if chosen == IN_MY_WORDS else chosen[:LONGEST_WHY])
    if not why:
        form.refuse(_("Say why; the record keeps the reason."), "because")
    return why
