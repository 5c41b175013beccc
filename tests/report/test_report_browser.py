"""The page in a real browser: two sheets of paper, no sideways scrolling on a phone, no complaint."""

import pytest

pytestmark = [pytest.mark.slow, pytest.mark.browser]


@pytest.mark.parametrize("name", ["full", "stock", "rig"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_phone_paper_and_policy(chrome, pages, tmp_path, name, scheme):
    file = tmp_path / "page.html"
    file.write_text(pages[name], encoding="utf-8")
    context = chrome.new_context(viewport={"width": 360, "height": 740}, color_scheme=scheme)
    page = context.new_page()
    said, asked = [], []
    page.on("console", lambda message: said.append(message.text))
    page.on("request", lambda request: asked.append(request.url))
    page.goto(file.as_uri())
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    colour = page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert colour == ("rgb(255, 255, 255)" if scheme == "light" else "rgb(21, 24, 28)")
    paper = page.pdf(prefer_css_page_size=True, print_background=True)
    assert said == []  # a broken content policy would be told here
    assert asked == [file.as_uri()]
    sheets = paper.count(b"/Type /Page\n") + paper.count(b"/Type /Page ")
    assert 1 <= sheets <= 2
    context.close()
