"""A network that fails between the request and its answer."""

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager


def _carry(client: socket.socket, server: tuple[str, int]) -> None:
    """Hand one request on, wait until it is answered, and keep the answer."""
    with client, socket.create_connection(server) as upstream:
        request = client.recv(65536)
        while not _whole(request):
            request += client.recv(65536)
        upstream.sendall(request)
        while upstream.recv(65536):
            pass


def _whole(request: bytes) -> bool:
    head, _, body = request.partition(b"\r\n\r\n")
    length = next(
        (
            int(line.split(b":")[1])
            for line in head.split(b"\r\n")
            if line.lower().startswith(b"content-length:")
        ),
        0,
    )
    return b"\r\n\r\n" in request and len(body) >= length


@contextmanager
def cutting_proxy(server: tuple[str, int]) -> Iterator[tuple[str, int]]:
    """The address of a proxy that drops every answer after the server has given it."""
    with socket.create_server(("127.0.0.1", 0)) as listening:

        def serve() -> None:
            while True:
                try:
                    client, _ = listening.accept()
                except OSError:
                    return
                _carry(client, server)

        thread = threading.Thread(target=serve, daemon=True)
        thread.start()
        yield listening.getsockname()
        listening.shutdown(socket.SHUT_RDWR)
        thread.join()
