"""Messages to the service manager: the sd_notify protocol, one datagram each."""

import os
import socket


def notify(*lines: str) -> None:
    """Send for example "READY=1", "WATCHDOG=1", "STATUS=..." or "STOPPING=1".

    Does nothing where no service manager listens. Source: sd_notify(3), section Notes: a name
    beginning with "@" is an abstract socket. A manager that has gone is no reason to stop.
    """
    address = os.environ.get("NOTIFY_SOCKET")
    if not address:
        return
    if address.startswith("@"):
        address = "\0" + address[1:]
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as sender:
        try:
            sender.sendto("\n".join(lines).encode(), socket.MSG_DONTWAIT, address)
        except OSError:
            return
