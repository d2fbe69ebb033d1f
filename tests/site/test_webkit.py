"""The site in WebKitGTK, the nearest kin of Safari that runs here: under the policy, and after one visit offline."""

import playing
import pytest
from hosting import Host
from selenium.webdriver import WebKitGTK
from selenium.webdriver.common.by import By
from selenium.webdriver.support.wait import WebDriverWait

DRILL = "drills/name-the-degree.html"
OTHER = "drills/choose-the-resolution.html"


@pytest.mark.browser
def test_a_round_is_played_and_after_that_others_without_a_server(webkit: WebKitGTK, host: Host) -> None:
    webkit.get(host.served.url(DRILL))
    playing.check_played(playing.in_webdriver(webkit))
    kept = webkit.find_element(By.CSS_SELECTOR, '#keeping [data-when="kept"]')
    WebDriverWait(webkit, 60).until(lambda _: kept.is_displayed())
    asked = len(host.asked)
    host.stop()

    webkit.get(host.served.url(OTHER))
    playing.check_played(playing.in_webdriver(webkit))
    webkit.get(host.served.url("handbook/"))
    assert webkit.title == "Handbook · Linekeeper"
    assert len(host.asked) == asked
