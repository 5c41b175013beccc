"""The look of pictures: what leaves as SVG is well formed, inert, readable and the same each time."""

import itertools
import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shaftwright.render.pictures import figure as look

pytestmark = pytest.mark.slow

SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "$\\frac{1}{0}$ & $_",
    "_hidden",
    "two\nlines\r\nand\ttabs",
    "]]> <!-- -- --> <?xml ?>",
    "\x00\x08\x1b[31m\ud800\uffff",
    "\u202eright to left",
    "矢 стрела ✓",
    "$",
    "{} %s \\n 'quote'",
    "",
]


def sample(name="MARSH-500", figure_id="map", title="The map", description="Length against front"):
    fig = look.new_figure(figure_id, title, description, height=3.2)
    ax = look.axes(fig, x="shaft length (in)", y="front mass (gr)")
    x = np.linspace(28, 32, 9)
    ax.fill_between(
        x, 120 + 10 * (x - 28), 180 + 12 * (x - 28), label="workable strip", **look.area()
    )
    for number in range(1, 7):
        ax.plot(
            x, 100 + 25 * number + 2 * x, label=look.plain(f"{name} {number}"), **look.mark(number)
        )
    ax.text(29, 150, name, color=look.PALETTE["ink"], rotation=20)
    ax.axvline(29, color=look.PALETTE["ink"], gid="shortest")
    ax.legend(frameon=False)
    return fig


def texts(root):
    return [element.text or "" for element in root.iter(f"{SVG}text")]


def test_svg_is_one_inert_element_with_title_and_description():
    svg = look.to_svg(sample())
    assert svg.startswith("<svg ")
    root = ET.fromstring(svg)
    assert root.tag == f"{SVG}svg"
    assert root.attrib["id"] == "map"
    assert root.attrib["role"] == "img"
    assert root.find(f"{SVG}title").text == "The map"
    assert root.find(f"{SVG}desc").text == "Length against front"
    named = {element.attrib.get("id") for element in root}
    assert set(root.attrib["aria-labelledby"].split()) <= named
    tags = {element.tag.removeprefix(SVG) for element in root.iter()}
    assert tags <= {
        "svg",
        "title",
        "desc",
        "g",
        "path",
        "defs",
        "use",
        "text",
        "clipPath",
        "rect",
        "pattern",
    }
    for element in root.iter():
        assert not any(key == "style" or key.startswith("on") for key in element.attrib)


def test_text_stays_text_in_a_generic_face():
    root = ET.fromstring(look.to_svg(sample()))
    assert "shaft length (in)" in texts(root)
    assert root.attrib["font-family"] == "sans-serif"
    assert not [e for e in root.iter() if e is not root and "font-family" in e.attrib]


def test_every_id_has_the_prefix_and_every_reference_resolves():
    root = ET.fromstring(look.to_svg(sample(figure_id="two-words")))
    ids = [element.attrib["id"] for element in root.iter() if "id" in element.attrib]
    assert len(ids) == len(set(ids))
    assert all(name == "two-words" or name.startswith("two-words-") for name in ids)
    assert "two-words-shortest" in ids
    text = ET.tostring(root, encoding="unicode")
    used = set(re.findall(r'href="#([^"]+)"', text)) | set(re.findall(r"url\(#([^)]+)\)", text))
    assert used
    assert used <= set(ids)


def test_two_pictures_share_no_id():
    one, two = (
        set(re.findall(r'\bid="([^"]+)"', look.to_svg(sample(figure_id=i))))
        for i in ("map", "ladder")
    )
    assert not one & two


def test_same_picture_same_text_also_when_drawn_twice():
    fig = sample()
    first = look.to_svg(fig)
    assert look.to_svg(fig) == first
    assert look.to_svg(sample()) == first


def test_places_are_no_finer_than_a_hundredth_and_no_group_is_empty():
    """What a screen cannot show is not sent; the places themselves stay where they were drawn."""
    root = ET.fromstring(look.to_svg(sample()))
    for element in root.iter():
        for name in ("d", "x", "y", "points"):
            assert not re.search(r"\.\d{3}", element.attrib.get(name, ""))
        assert element.tag != f"{SVG}g" or element.attrib
    (line,) = root.find(f".//{SVG}g[@id='map-shortest']").iter(f"{SVG}path")
    x, low, also, high = map(float, line.attrib["d"].removeprefix("M").split())
    assert x == also
    assert low > high


def test_every_picture_is_as_wide_and_a_file_shows_it_larger(tmp_path):
    inside = ET.fromstring(look.to_svg(sample()))
    saved = ET.fromstring(look.picture_bytes(sample(), "a.svg"))
    assert inside.attrib["viewBox"] == saved.attrib["viewBox"]
    wide = 72 * look.WIDTH_IN
    assert float(inside.attrib["width"]) == pytest.approx(wide)
    assert float(saved.attrib["width"]) > 1.5 * wide
    assert wide <= 360 - 2 * 14, "a phone of 360 px with its margins"


def test_palette_colours_become_variables_with_the_light_colour_behind():
    svg = look.to_svg(sample())
    assert "var(--sw-mark-1, #0060df)" in svg
    assert "var(--sw-ink, #1b1b1b)" in svg
    without = re.sub(r"var\([^)]*\)", "", svg)
    assert not re.findall(r"#[0-9a-f]{6}\b", without.replace('href="#', 'href="'))
    assert "var(" not in look.to_svg(sample(), variables=False)
    sheet = look.css()
    for role, colour in look.PALETTE.items():
        variable = "--sw-" + role.replace("_", "-")
        assert f"{variable}: {colour};" in sheet
        assert f"{variable}: {look.DARK_PALETTE[role]};" in sheet


@pytest.mark.parametrize("name", HOSTILE)
@pytest.mark.slow
def test_hostile_names_stay_names(name):
    fig = sample(name=name, title=name, description=name)
    root = ET.fromstring(look.to_svg(fig))
    calm = ET.fromstring(look.to_svg(sample()))
    allowed = {element.tag for element in calm.iter()}
    assert {element.tag for element in root.iter()} <= allowed
    for element in root.iter():
        assert not any(key.startswith("on") or key == "src" for key in element.attrib)


@settings(max_examples=20, deadline=None)
@given(st.text(max_size=30))
@pytest.mark.slow
def test_any_name_gives_well_formed_svg(name):
    fig = look.new_figure("t", name, name, height=8)
    ax = look.axes(fig, x=name)
    ax.set_yticks([1, 2], labels=[name, look.plain(name)])
    ax.set_title(name)
    root = ET.fromstring(look.to_svg(fig))
    shown = look.plain(name)
    if shown:
        assert any(" ".join(text.split()) == shown for text in texts(root))
    known = ("title", "desc", "g", "defs", "path", "use", "text")
    assert {e.tag for e in root} <= {f"{SVG}{tag}" for tag in known}


@given(st.text(max_size=200))
def test_plain_is_one_short_printable_line(text):
    line = look.plain(text)
    assert len(line) <= 61
    assert not re.search(r"[\x00-\x1f\x7f-\x9f\ud800-\udfff\u202a-\u202e]", line)
    assert not line.startswith("_")


def test_mathematics_is_not_read():
    fig = look.new_figure("t", "t", "t")
    look.axes(fig).set_title("$x_1^2$ costs $5")
    assert "$x_1^2$ costs $5" in texts(ET.fromstring(look.to_svg(fig)))


@pytest.mark.parametrize(
    ("suffix", "start"), [(".svg", b"<?xml"), (".png", b"\x89PNG"), (".PDF", b"%PDF")]
)
def test_save_by_suffix_and_the_same_each_time(tmp_path, suffix, start):
    one, two = tmp_path / f"one{suffix}", tmp_path / f"two{suffix}"
    one.write_bytes(look.picture_bytes(sample(), one))
    two.write_bytes(look.picture_bytes(sample(), two))
    assert one.read_bytes().startswith(start)
    assert one.read_bytes() == two.read_bytes()


def test_saved_svg_stands_alone(tmp_path):
    (tmp_path / "a.svg").write_bytes(look.picture_bytes(sample(), tmp_path / "a.svg"))
    root = ET.parse(tmp_path / "a.svg").getroot()
    assert root[0].tag == f"{SVG}rect"
    assert root[0].attrib["fill"] == look.PALETTE["paper"]
    assert "var(" not in (tmp_path / "a.svg").read_text(encoding="utf-8")


# --- readable by everybody -----------------------------------------------------------------

#: Full colour blindness on linear RGB: Machado, Oliveira & Fernandes, IEEE Trans. Vis. Comput.
#: Graph. 15 (2009) 1291, severity 1.0; recalled.
SEES = {
    "all": np.eye(3),
    "no green": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "no red": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "no blue": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}


def linear(colour):
    """SRGB decoding, IEC 61966-2-1."""
    c = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def contrast(a, b):
    """Contrast ratio of WCAG 2.1."""
    low, high = sorted(linear(c) @ [0.2126, 0.7152, 0.0722] for c in (a, b))
    return (high + 0.05) / (low + 0.05)


def lab(rgb):
    """CIE 1976 L*a*b* under D65."""
    xyz = np.array(
        [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    ) @ np.clip(rgb, 0, 1)
    xyz = xyz / [0.9505, 1.0, 1.089]
    f = np.where(xyz > 0.008856, np.cbrt(xyz), 7.787 * xyz + 16 / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("palette", [look.PALETTE, look.DARK_PALETTE], ids=["light", "dark"])
def test_contrast_wcag(palette):
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)  # WCAG 2.1
    for role in ("ink", "muted"):
        assert contrast(palette[role], palette["paper"]) >= 4.5
    assert contrast(palette["ink"], palette["band"]) >= 4.5
    for role in ["band_edge", *(f"mark_{n}" for n in range(1, 7))]:
        assert contrast(palette[role], palette["paper"]) >= 3.0


@pytest.mark.parametrize("kind", SEES)
@pytest.mark.parametrize("palette", [look.PALETTE, look.DARK_PALETTE], ids=["light", "dark"])
def test_marks_keep_apart_machado_2009(palette, kind):
    seen = [lab(np.array(SEES[kind]) @ linear(palette[f"mark_{n}"])) for n in range(1, 7)]
    assert min(np.linalg.norm(a - b) for a, b in itertools.combinations(seen, 2)) > 15


@pytest.mark.parametrize("palette", [look.PALETTE, look.DARK_PALETTE], ids=["light", "dark"])
def test_marks_keep_apart_in_grey(palette):
    lightness = sorted(lab(linear(palette[f"mark_{n}"]))[0] for n in range(1, 7))
    assert min(np.diff(lightness)) > 5


def test_marks_differ_without_colour():
    styles = [look.mark(n) for n in range(1, 7)]
    assert len({s["marker"] for s in styles}) == 6
    assert len({str(s["linestyle"]) for s in styles}) == 6
    assert set(look.PALETTE) == set(look.DARK_PALETTE)
    assert len(set(look.PALETTE.values())) == len(look.PALETTE)
