"""WebKitGTK, the nearest kin of the browsers on Apple's phones that runs here, on a screen that nobody sees."""

import os
import shutil
import subprocess
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from selenium.webdriver import WebKitGTK, WebKitGTKOptions
from selenium.webdriver.webkitgtk.service import Service

DRIVER = shutil.which("WebKitWebDriver")
SCREEN = shutil.which("Xvfb")
BROWSERS = sorted(Path("/usr").glob("lib*/**/webkit2gtk-4*/MiniBrowser"))
MISSING = "WebKitGTK's driver and Xvfb are not here: on Debian, apt install webkit2gtk-driver xvfb; or --no-webkit"
# A start of the engine on a busy machine.
PATIENCE = 60


def is_here() -> bool:
    """Whether this machine can run it."""
    return bool(DRIVER and SCREEN and BROWSERS)


@contextmanager
def opened() -> Iterator[WebKitGTK]:
    """A browser window with an empty profile."""
    options = WebKitGTKOptions()
    options.binary_location = str(BROWSERS[-1])
    options.add_argument("--automation")
    with screen() as display:
        service = Service(DRIVER, env={**os.environ, "DISPLAY": display, "GDK_BACKEND": "x11"})
        with warnings.catch_warnings():
            # Selenium warns here of a way that is its own.
            warnings.simplefilter("ignore", DeprecationWarning)
            browser = WebKitGTK(options=options, service=service)
        try:
            browser.set_script_timeout(PATIENCE)
            browser.set_page_load_timeout(PATIENCE)
            yield browser
        finally:
            browser.quit()


@contextmanager
def screen() -> Iterator[str]:
    """A screen in memory, on the first free number."""
    assert SCREEN
    reading, writing = os.pipe()
    command = [SCREEN, "-displayfd", str(writing), "-screen", "0", "1280x1024x24", "-nolisten", "tcp"]
    with subprocess.Popen(command, pass_fds=[writing], stderr=subprocess.DEVNULL) as server:
        os.close(writing)
        try:
            with os.fdopen(reading) as number:
                yield f":{number.readline().strip()}"
        finally:
            server.terminate()
