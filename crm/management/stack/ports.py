"""A listening socket for the web server."""

from __future__ import annotations

import errno
import socket

USUAL_PORT = 8484
TRIED = 50


class NoPort(Exception):
    """The address cannot be listened on; the sentence says why."""


def listen(address: str, port: int | None) -> socket.socket:
    """A listening socket on `port`, or on the first free one from the usual port when none is asked for.

    Raises NoPort where the port asked for is taken, or the address is not this machine's.
    """
    wanted = [port] if port is not None else [*range(USUAL_PORT, USUAL_PORT + TRIED), 0]
    for number in wanted:
        try:
            return _bound(address, number)
        except OverflowError as error:
            raise NoPort(f"{number} is not a port: it must be from 0 to 65535.") from error
        except OSError as error:
            if error.errno != errno.EADDRINUSE:
                raise NoPort(f"Cannot listen on {address}, port {number}: {error.strerror}.") from error
    raise NoPort(f"Port {port} on {address} is taken. Leave --port out to have a free one chosen.")


def _bound(address: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    try:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((address, port))
        listener.listen(128)
    except BaseException:
        listener.close()
        raise
    return listener
