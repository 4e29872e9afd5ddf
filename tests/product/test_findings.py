import re
from importlib import resources

import pytest

from hangroom.product.findings import Answer, Finding, Source, Standing


def test_what_is_not_shown_must_name_what_would_show_it() -> None:
    with pytest.raises(ValueError, match="nothing is named"):
        Finding(
            answer=Answer.NOT_SHOWN,
            what="a figure",
            because="it was never measured",
            source=Source("a table", Standing.SEEN),
        )


def test_the_product_never_calls_food_safe() -> None:
    # The house rule: say which published figure is met, missed or unknown, and no more.
    for file in resources.files("hangroom.product").iterdir():
        if file.name.endswith(".py"):
            assert not re.search(r"\b(un)?safe(ly)?\b", file.read_text("utf-8"), re.IGNORECASE), (
                file.name
            )
