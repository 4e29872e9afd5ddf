"""On-off control with a band: the smallest controller, and the one everything else wraps."""


def raises(*, closed: bool, seen: float, start_at: float, stop_at: float) -> bool:
    """Whether a relay that raises `seen` shall be closed: starts at or below, stops at or above.

    All three in one unit, whichever; `start_at` lies below `stop_at`. Between the two the relay
    keeps its position, which is what keeps it from chattering.
    """
    return seen < stop_at if closed else seen <= start_at


def lowers(*, closed: bool, seen: float, start_at: float, stop_at: float) -> bool:
    """Whether a relay that lowers `seen` shall be closed: starts at or above, stops at or below."""
    return seen > stop_at if closed else seen >= start_at
