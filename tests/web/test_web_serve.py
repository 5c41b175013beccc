"""The command that opens the page."""

from __future__ import annotations

import io
import re
import socket
import subprocess
import sys
import urllib.error
import urllib.request
import zipfile

import pytest
from click.testing import CliRunner
from web_kit import Reader, fill, open_page

from shaftwright.cli.serve import command


def started(folder, *options):
    process = subprocess.Popen(
        [sys.executable, "-c", "from shaftwright.cli.main import main; main()", "serve", "--folder", str(folder),
         "--port", "0", *options],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    line = process.stdout.readline()
    found = re.search(r"http://\S+", line)
    if not found:
        process.kill()
        pytest.fail(f"no address: {line} {process.stderr.read()}")
    return process, found.group()


@pytest.mark.slow
def test_it_listens_on_this_machine_only(tmp_path):
    process, address = started(tmp_path)
    try:
        assert address.startswith("http://127.0.0.1:")
        with urllib.request.urlopen(address, timeout=20) as answer:
            assert answer.status == 200
            assert "server" not in answer.headers
        port = int(address.rsplit(":", 1)[1].strip("/"))
        # another address of the same machine is not answered: it is not bound to all of them
        with socket.socket() as other:
            other.settimeout(2)
            assert other.connect_ex(("127.0.0.2", port)) != 0
    finally:
        process.terminate()
        process.communicate(timeout=20)


@pytest.mark.slow
def test_beyond_this_machine_it_warns_and_gives_a_key(tmp_path):
    process, address = started(tmp_path, "--host", "0.0.0.0")
    try:
        assert "?key=" in address
        assert "0.0.0.0" not in address  # an address that a phone can open
        assert "On your phone" in process.stdout.readline()
        with pytest.raises(urllib.error.HTTPError) as refused:
            urllib.request.urlopen(
                re.sub("//[^:]+", "//127.0.0.1", address.split("?")[0]), timeout=20
            )
        assert refused.value.code == 401
        refused.value.close()
    finally:
        process.terminate()
        _, told = process.communicate(timeout=20)
    assert "Warning" in told
    assert "not encrypted" in " ".join(told.split())


def test_a_port_in_use_is_told(tmp_path):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        from shaftwright.cli.main import cli

        answer = CliRunner().invoke(
            cli, ["serve", "--folder", str(tmp_path), "--port", str(taken.getsockname()[1])]
        )
    assert answer.exit_code == 2
    assert "cannot be used" in answer.output


def test_a_missing_folder_is_told(tmp_path):
    from shaftwright.cli.main import cli

    answer = CliRunner().invoke(cli, ["serve", "--folder", str(tmp_path / "nowhere")])
    assert answer.exit_code == 2
    assert "is not a folder" in answer.output


def test_without_the_extra_it_says_what_to_install(tmp_path, monkeypatch):
    from shaftwright.cli.main import cli

    monkeypatch.setitem(sys.modules, "uvicorn", None)
    answer = CliRunner().invoke(cli, ["serve", "--folder", str(tmp_path)])
    assert answer.exit_code == 2
    assert 'pip install "shaftwright[web]"' in answer.output


def test_help_has_an_example():
    text = CliRunner().invoke(command, ["--help"]).output
    assert "shaftwright serve my-bow" in text


@pytest.mark.slow
def test_everything_can_be_taken_away(tmp_path):
    client, _ = open_page(fill(tmp_path))
    answer = client.get("/files/everything.zip")
    assert answer.headers["content-disposition"] == 'attachment; filename="everything.zip"'
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        names = set(archive.namelist())
        assert {"rig.yaml", "stock.csv", "choose.json", "builds.csv"} <= names
        assert archive.read("rig.yaml") == (tmp_path / "rig.yaml").read_bytes()
        assert archive.read("stock.csv") == (tmp_path / "stock.csv").read_bytes()
    assert "not there yet" in Reader(client.get("/files").text).words
