"""A school's application on a real port, for a real browser."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from flask import Flask
from werkzeug.serving import WSGIRequestHandler, make_server


class Quiet(WSGIRequestHandler):
    """A request handler that does not tell every request."""

    def log_request(self, *_: object) -> None:
        """Say nothing."""


@contextmanager
def served(app: Flask) -> Iterator[str]:
    """The address of an application, which is served while the block runs."""
    server = make_server("127.0.0.1", 0, app, threaded=True, request_handler=Quiet)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        thread.join()
        server.server_close()
