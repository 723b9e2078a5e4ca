"""A checkpoint leaves the building by mail."""

import socketserver
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from gradebook.cli import main
from gradebook.ledger import notes
from gradebook.records.store import people
from tests.cast import SEED, TestSchool


class Line(socketserver.StreamRequestHandler):
    """As much of a mail server (RFC 5321) as one plain mail needs."""

    def handle(self) -> None:
        self.wfile.write(b"220 here\r\n")
        while command := self.rfile.readline().decode().strip():
            if command.upper() == "DATA":
                self.wfile.write(b"354 go on\r\n")
                lines = iter(self.rfile.readline, b".\r\n")
                self.server.taken.append(b"".join(lines).decode())  # type: ignore[attr-defined]
            if command.upper() == "QUIT":
                self.wfile.write(b"221 bye\r\n")
                return
            self.wfile.write(b"250 yes\r\n")


@pytest.fixture
def post_office() -> Iterator[tuple[str, list[str]]]:
    """The address of a mail server, and the mails it took."""
    with socketserver.TCPServer(("127.0.0.1", 0), Line) as server:
        server.taken = []  # type: ignore[attr-defined]
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        yield f"smtp://127.0.0.1:{server.server_address[1]}", server.taken  # type: ignore[attr-defined]
        server.shutdown()
        thread.join()


def run(tmp_path: Path, *words: str) -> int:
    (tmp_path / "school.key").write_text(SEED.hex())
    return main(["checkpoint", "--data", str(tmp_path), *words])


def test_a_checkpoint_is_mailed_whole(
    school: TestSchool,
    tmp_path: Path,
    post_office: tuple[str, list[str]],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("WINDTEE_MAIL", post_office[0])
    assert run(tmp_path, "--mail", "chief@elsewhere.example") == 0
    assert len(post_office[1]) == 1
    kept = next((tmp_path / "checkpoints").glob("*.note")).read_text()
    with school.database.read() as session:
        row = people.school(session)
        assert row is not None
        assert notes.read_checkpoint(notes.open_note(kept, row.vkey)).size > 0
    assert "To: chief@elsewhere.example" in post_office[1][0]


@pytest.mark.parametrize("server", ["", "http://127.0.0.1", "smtp://127.0.0.1:1"])
@pytest.mark.usefixtures("school")
def test_a_mail_that_cannot_be_sent_is_told(
    tmp_path: Path,
    server: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setenv("WINDTEE_MAIL", server)
    assert run(tmp_path, "--mail", "chief@elsewhere.example") == 1
    assert capsys.readouterr().err.strip()
    assert list((tmp_path / "checkpoints").glob("*.note"))
