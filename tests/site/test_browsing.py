"""The watch over the pages sees what it is there to see; without this the other browser tests would prove little."""

import pytest
from browsing import POLICY, Served, Visit, Watch

MISBEHAVIOUR = {
    "a request to elsewhere": "fetch('http://127.0.0.1:9/').catch(() => {})",
    "a request to elsewhere by a worker": (
        "new Worker(URL.createObjectURL(new Blob([\"fetch('http://127.0.0.1:9/').catch(() => {})\"])))"
    ),
    "an error on the console": "console.error('out of tune')",
    "an exception": "setTimeout(() => { throw new Error('out of tune') })",
    "a rejected promise": "Promise.reject(new Error('out of tune'))",
    "what the policy forbids": "document.body.setAttribute('style', 'color: red')",
}


@pytest.mark.browser
@pytest.mark.parametrize("script", MISBEHAVIOUR.values(), ids=MISBEHAVIOUR.keys())
def test_misbehaviour_fails_the_check(script: str, phone: Visit, served: Served) -> None:
    phone.watch.expect("")
    second = Watch(phone.page.context, served.origin)
    served.policy = POLICY if "style" in script else "default-src * blob: data: 'unsafe-inline' 'unsafe-eval'"
    served.replaced["blank.html"] = "<!doctype html><title>blank</title><link rel=icon href=data:,><body>"
    phone.page.goto(served.url("blank.html"))
    second.check()
    phone.page.evaluate(f"() => {{ {script} }}")
    phone.page.wait_for_timeout(500)
    with pytest.raises(AssertionError):
        second.check()
    phone.watch.foreign.clear()
