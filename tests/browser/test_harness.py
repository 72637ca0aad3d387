"""The harness itself, on a page that stands for any page: a control, a sentence that follows it, a file it writes."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

CONTROL = '''
import anywidget, ipywidgets, traitlets
class Days(anywidget.AnyWidget):
    value = traitlets.Int(21).tag(sync=True)
    _esm = """
    export default {render({model, el}) {
        const label = document.createElement("label"), input = document.createElement("input");
        label.textContent = "Days held, days"; input.type = "range"; input.value = model.get("value");
        input.addEventListener("input", () => { model.set("value", Number(input.value)); model.save_changes(); });
        input.addEventListener("keydown", event => event.stopPropagation());  // else the notebook takes the arrows
        label.append(input); el.append(label);
    }}"""
days, sentence = Days(), ipywidgets.HTML("<div role='status'>21 days</div>")
days.observe(lambda change: sentence.set_trait("value", f"<div role='status'>{change.new} days</div>"), "value")
ipywidgets.VBox([days, sentence])
'''


@pytest.mark.parametrize("hidden", [False, True])
def test_a_control_moved_by_keyboard_changes_the_sentence(lab, write_page, hidden):
    page = lab.open(write_page(CONTROL, "2 + 2", hidden=hidden))
    expect(page.get_by_role("status")).to_have_text("21 days")
    page.get_by_role("slider", name="Days held, days").focus()
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    expect(page.get_by_role("status")).to_have_text("24 days")
    expect(lab.output(page, 2)).to_have_text("4")
    assert lab.picture(page, "moved").stat().st_size > 1000


def test_a_failing_cell_fails_the_opening(lab, write_page):
    path = write_page("raise ValueError('the jar is empty')")
    with pytest.raises(AssertionError, match="the jar is empty"):
        lab.open(path)


def test_a_request_that_leaves_the_machine_is_seen_and_stopped(lab, write_page):
    # 192.0.2.1 is set aside for documentation (RFC 5737): nothing answers there.
    page = lab.open(write_page("from IPython.display import HTML\nHTML('<img alt=leak src=http://192.0.2.1/x.png>')"))
    expect(page.get_by_alt_text("leak")).to_have_count(1)
    assert lab.outside == ["http://192.0.2.1/x.png"]
    lab.outside.clear()


def test_an_error_in_the_page_is_seen(lab, write_page):
    page = lab.open(write_page("1"), run=False)
    with page.expect_event("pageerror"):
        page.evaluate("setTimeout(() => { throw new Error('spilt') })")
    assert lab.errors == ["spilt"]
    lab.errors.clear()


def test_the_server_wants_its_token_and_listens_here_only(lab):
    for path in ("api/contents", "doc/tree/workbook/start.ipynb"):
        stranger = lab.context.request.get(f"{lab.server.origin}/{path}", max_redirects=0)
        assert stranger.status in (302, 403), path
        assert stranger.headers.get("location", "/login").startswith("/login")


def test_no_box_asks_for_news_and_nobody_looks_for_updates(lab):
    told = lab.server.ask("GET", "lab/api/settings/@jupyterlab/apputils-extension:notification")
    defaults = {name: told["schema"]["properties"][name]["default"] for name in ("fetchNews", "checkForUpdates")}
    assert defaults == {"fetchNews": "false", "checkForUpdates": False}
