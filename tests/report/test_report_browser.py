"""The page in a real browser: two sheets of paper, no sideways scrolling on a phone, no complaint."""

import pytest

#: what is wrong with the words of the pictures as the browser draws them: too small, outside, or over others
#: (words that run along a line are turned, and are measured in tests/render)
WORDS = """() => [...document.querySelectorAll("svg.sw-figure")].flatMap((svg) => {
  const frame = svg.getBoundingClientRect();
  const words = [...svg.querySelectorAll("text")].filter((t) => !/rotate/.test(t.getAttribute("transform") ?? ""))
    .map((t) => [t.textContent, t.getBoundingClientRect(), parseFloat(getComputedStyle(t).fontSize) * svg.getScreenCTM().a]);
  const found = words.filter(([, b, px]) => px < 8.5 || b.left < frame.left - 1 || b.right > frame.right + 1
    || b.top < frame.top - 1 || b.bottom > frame.bottom + 1).map(([told, , px]) => `${svg.id}: ${told} (${px} px)`);
  words.forEach(([told, a], i) => words.slice(i + 1).forEach(([other, b]) => {
    if (Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1.5 && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 3)
      found.push(`${svg.id}: ${told} over ${other}`);
  }));
  return found;
})"""

pytestmark = [pytest.mark.slow, pytest.mark.browser]


@pytest.mark.parametrize("name", ["full", "stock", "rig"])
def test_phone_paper_and_policy(chrome, pages, tmp_path, name):
    file = tmp_path / "page.html"
    file.write_text(pages[name], encoding="utf-8")
    context = chrome.new_context(viewport={"width": 360, "height": 740})
    page = context.new_page()
    said, asked = [], []
    page.on("console", lambda message: said.append(message.text))
    page.on("request", lambda request: asked.append(request.url))
    page.goto(file.as_uri())
    for scheme, paper in (("light", "rgb(255, 255, 255)"), ("dark", "rgb(21, 24, 28)")):
        page.emulate_media(color_scheme=scheme)
        assert page.evaluate("document.documentElement.scrollWidth") <= 360
        assert page.evaluate(WORDS) == []
        assert page.evaluate("getComputedStyle(document.body).backgroundColor") == paper
    paper = page.pdf(prefer_css_page_size=True, print_background=True)
    assert said == []  # a broken content policy would be told here
    assert asked == [file.as_uri()]
    sheets = paper.count(b"/Type /Page\n") + paper.count(b"/Type /Page ")
    assert 1 <= sheets <= 2
    context.close()
