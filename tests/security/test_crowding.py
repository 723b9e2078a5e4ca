"""While too many wait at the door, whoever comes in is told to come again."""

import socket
from collections.abc import Iterator
from contextlib import ExitStack

import pytest

from gradebook.security import crowding
from tests.cast import TestSchool


@pytest.fixture
def door() -> Iterator[socket.socket]:
    """A listening socket at which nobody takes anybody on."""
    with socket.create_server(("127.0.0.1", 0), backlog=2 * crowding.LONGEST) as listening:
        crowding.watch([listening])
        yield listening
        crowding.watch([])


def test_those_who_wait_are_counted_and_too_many_are_sent_away(
    door: socket.socket, school: TestSchool
) -> None:
    client = school.app.test_client()
    with ExitStack() as queue:
        for number in range(crowding.LONGEST):
            assert crowding.waiting() == number
            queue.enter_context(socket.create_connection(door.getsockname()))
        assert client.get("/sign-in").status_code == 200
        queue.enter_context(socket.create_connection(door.getsockname()))
        for path, said in (("/sign-in", "Send it again soon"), ("/api/token", '"error"')):
            answer = client.get(path)
            assert (answer.status_code, answer.headers["Retry-After"]) == (503, "10")
            assert said in answer.text
        door.accept()[0].close()
        assert client.get("/sign-in").status_code == 200


def test_where_nothing_is_told_of_the_door_nobody_is_sent_away() -> None:
    with socket.socket(socket.AF_UNIX) as other:
        crowding.watch([other])
        assert crowding.waiting() == 0
        crowding.watch([])
