"""What a host's name is. Pure."""

from ipaddress import ip_address


def is_number(host: str) -> bool:
    """Return whether this is an address in numbers and no name."""
    try:
        ip_address(host)
    except ValueError:
        return False
    return True
