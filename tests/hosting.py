"""A host for the tests of what survives it: it can be stopped, and it can serve another build at the same address."""

import shutil
import threading
from functools import partial
from pathlib import Path

import names
import offline
import serving
from browsing import Handler, Served


class Host:
    """A server of its own for one test, which notes what it was asked for."""

    def __init__(self, site: Path) -> None:
        self.site = site
        self.asked: list[str] = []
        self.port = 0
        self._server: serving.Server | None = None
        self.start()
        self.served = Served(f"http://{serving.ADDRESS}:{self.port}", site)

    def start(self, site: Path | None = None) -> None:
        """Serves a build, at the same address as before."""
        self.site = site or self.site
        handler = partial(_Handler, host=self, served=lambda: self.served)
        self._server = serving.open_server(self.site, self.port or 8300, handler)  # type: ignore[arg-type]
        assert self.port in (0, self._server.server_port), "the port was taken by something else"
        self.port = self._server.server_port
        threading.Thread(target=self._server.serve_forever, daemon=True).start()

    def stop(self) -> None:
        """No one answers any more, not on connections that are still open either."""
        assert self._server
        server, self._server = self._server, None
        server.shutdown()
        server.server_close()

    def serve(self, site: Path) -> None:
        """Puts another build in the place of the one before."""
        self.stop()
        self.start(site)
        self.served.site = site
        self.asked.clear()

    @property
    def is_up(self) -> bool:
        """Whether it answers."""
        return self._server is not None


class _Handler(Handler):
    def __init__(self, *args: object, host: Host, **kwargs: object) -> None:
        self.host = host
        self.of = host.site
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]

    def do_GET(self) -> None:
        # A connection that was opened to a server that has been stopped ends here.
        if not self.host.is_up or self.of != self.host.site:
            self.close_connection = True
            return
        self.host.asked.append(self.path)
        super().do_GET()


def next_build(site: Path, folder: Path, changes: dict[str, tuple[str, str]]) -> Path:
    """Another build: a copy in which files differ, finished as every build is.

    `changes` names files as in the source, and for each a text in it with the one that takes its place.
    """
    shutil.copytree(site, folder)
    for name in offline.FOR_HOSTS:
        (folder / name).unlink()
    build = build_id(site)
    # Snapshots are no part of what a build is finished with; they are put back after that.
    snapshots = {path.name: path.read_bytes() for path in folder.glob("runtime-*/snapshot*")}
    for name in snapshots:
        next(folder.glob(f"runtime-*/{name}")).unlink()
    for hashed in names.folders(folder):
        hashed.rename(folder / names.plain(f"{hashed.name}/"))
    worker = folder / "runtime" / names.WORKER
    worker.with_stem(f"{worker.stem}-{build}").rename(worker)
    for path in (*folder.rglob("*.html"), worker, *(folder / name for name in changes)):
        text = path.read_text(encoding="utf-8").replace(build, names.MARK)
        for hashed in names.folders(site):
            text = text.replace(f"{hashed.name}/", names.plain(f"{hashed.name}/"))
        path.write_text(text, encoding="utf-8")
    for name, (old, new) in changes.items():
        text = (folder / name).read_text(encoding="utf-8")
        assert old in text, f"{old} is not in {name}"
        (folder / name).write_text(text.replace(old, new), encoding="utf-8")
    offline.finish(folder)
    for name, content in snapshots.items():
        (names.published(folder, "runtime/library.zip").parent / name).write_bytes(content)
    return folder


def build_id(site: Path) -> str:
    """The id of a built site."""
    return names.published(site, "runtime/worker.py").stem.removeprefix("worker-")
