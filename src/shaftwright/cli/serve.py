"""`shaftwright serve`: the same, as a local page."""

from __future__ import annotations

import secrets
import socket
from pathlib import Path

import click


@click.command("serve")
@click.argument("bow", metavar="[BOW]", required=False, type=click.Path(file_okay=False))
@click.option(
    "--folder", default=".", metavar="DIR", type=click.Path(file_okay=False),
    help="The same as BOW: where rig.yaml, stock.csv and notebook.yaml are, or will be.",
)  # fmt: skip
@click.option(
    "--port", type=click.IntRange(0, 65535), default=8417, show_default=True,
    help="Port; 0 takes a free one.",
)  # fmt: skip
@click.option(
    "--host", default="127.0.0.1", show_default=True,
    help="Address to listen on. Any other than this machine's own lets others reach your files.",
)  # fmt: skip
def command(bow: str | None, folder: str, port: int, host: str) -> None:
    """Show rig, map, shots and list as a page on this machine; Ctrl-C ends it.

    BOW is a folder; without one, the folder you stand in. One that holds several bows opens
    with a choice of them.

    The page reads and writes the same files as the other commands. It needs the extra `web`:
    pip install "shaftwright[web]"

    \b
    Example:
      shaftwright serve my-bow
    """
    import os

    from shaftwright.errors import InputError

    try:
        import uvicorn

        from shaftwright.web.app import create_app
        from shaftwright.web.guard import Patient
    except ImportError as error:
        problem = f'needs the extra "web" ({error.name} is missing): pip install "shaftwright[web]"'
        raise InputError.of("serve", problem) from None
    from shaftwright.web.guard import Door, is_loopback

    folder = bow or folder
    key = "" if is_loopback(host) else secrets.token_urlsafe(24)
    listener = _bound(host, port)
    try:
        there = _seen_at() if host in ("0.0.0.0", "::") else host
        shown = f"[{there}]" if ":" in there else there
        address = f"http://{shown}:{listener.getsockname()[1]}/"
        if key:
            click.echo(
                f"Warning: listening on {host}, so others on your network can reach this page. It is not "
                "encrypted. Only whoever has the key below gets in; end it with Ctrl-C when you are done.",
                err=True,
            )
            address += f"?key={key}"
        app = create_app(Path(folder), Door(host, key, address=address if key else ""))
        click.echo(f"{os.path.realpath(folder)} is open at {address}")
        if key:
            click.echo(
                "On your phone, in the same home network, open this whole address; it holds the key. "
                "Opened on this machine, the page has it under Files as a picture for a phone's camera."
            )
        else:
            click.echo(
                "For your phone: end this, and start it with --host 0.0.0.0 in a home network you trust."
            )
        click.echo("Ctrl-C ends it; everything saved stays in the folder.")
        settings = uvicorn.Config(
            app, log_level="warning", access_log=False, server_header=False, date_header=False,
            proxy_headers=False, ws="none", http=Patient, timeout_graceful_shutdown=3,
        )  # fmt: skip
        uvicorn.Server(settings).run(sockets=[listener])
    except KeyboardInterrupt:
        pass
    finally:
        listener.close()


def _seen_at() -> str:
    """The address under which others of the network see this machine; nothing is sent to find it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        try:
            asked.connect(("192.0.2.1", 9))  # an address kept for documents (RFC 5737)
            return str(asked.getsockname()[0])
        except OSError:
            return "127.0.0.1"


def _bound(host: str, port: int) -> socket.socket:
    """A listening socket; a port in use is told as a fault."""
    from shaftwright.errors import InputError

    try:
        family, kind, protocol, _, where = socket.getaddrinfo(
            host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
        with socket.socket(family, kind, protocol) as listener:
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            listener.bind(where)
            listener.listen(64)
            return listener.dup()
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise InputError.of(f"--host {host} --port {port}", f"cannot be used: {reason}") from None
