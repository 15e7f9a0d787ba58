"""What every page must be in a browser: open to everyone, on any width, easy to hit."""

from pathlib import Path

from playwright.sync_api import Page

PHONE = {"width": 390, "height": 844}
LAPTOP = {"width": 1280, "height": 800}
# WCAG 2.2, success criterion 1.4.10: no scrolling in two directions at 320 CSS pixels.
NARROW = {"width": 320, "height": 640}

AXE = Path(__file__).parent / "vendor" / "axe.min.js"
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]

# What ends beyond the window or, where it ends inside it, takes the scrolling away when it is not
# there: then something drawn before or after it sticks out. Of things inside each other only the
# innermost is named.
STICKING_OUT = """width => {
  const fits = one => {
    const display = one.style.display;
    one.style.setProperty("display", "none", "important");
    const does = document.documentElement.scrollWidth <= width;
    one.style.display = display;
    return does;
  };
  const out = [...document.querySelectorAll("body *")].filter(
    one => one.checkVisibility() && (one.getBoundingClientRect().right > width || fits(one)));
  return out.filter(one => !out.some(other => other !== one && one.contains(other))).map(one =>
    `up to ${one.getBoundingClientRect().right.toFixed(1)} px: ${one.outerHTML.slice(0, 160)}`);
}"""


def assert_accessible(page: Page) -> None:
    """Run axe-core over the page by day, then what darkness changes, and show every finding."""
    page.wait_for_load_state()  # a click waits until an answer begins, not until it is all there
    page.evaluate(AXE.read_text(encoding="utf-8"))
    assert_no_findings(page, RULES)
    # nothing but colours differs after dark, so the other rules need no second look
    page.emulate_media(color_scheme="dark")
    assert_no_findings(page, ["color-contrast"])
    page.emulate_media(color_scheme="light")


def assert_no_findings(page: Page, rules: list[str]) -> None:
    """Run rules, or groups of them, of the axe-core in the page."""
    found = page.evaluate(
        "rules => axe.run(document, {runOnly: rules, resultTypes: ['violations']})", rules
    )
    findings = [
        f"{violation['id']}: {violation['help']} at {node['target']}: {node['html'][:200]}"
        for violation in found["violations"]
        for node in violation["nodes"]
    ]
    assert not findings, "\n".join([page.url, *findings])
    assert found["passes"], "axe-core checked nothing"


def assert_no_sideways_scroll(page: Page, width: int = NARROW["width"]) -> None:
    """Make the window narrow and see that the page itself does not scroll sideways."""
    before = page.viewport_size
    page.set_viewport_size({"width": width, "height": NARROW["height"]})
    needed = page.evaluate("document.documentElement.scrollWidth")
    sticking_out = page.evaluate(STICKING_OUT, width) if needed > width else []
    if before:
        page.set_viewport_size(before)
    assert needed <= width, "\n".join(
        [f"{page.url} needs {needed} px in a window of {width} px", *sticking_out]
    )


def assert_easy_to_hit(page: Page, least_px: int = 44) -> None:
    """See that what is tapped (buttons, fields, links that stand alone) is large enough."""
    small = page.evaluate(
        """least => [...document.querySelectorAll(
            "button, input:not([type=hidden]), select, textarea, a.button, nav a")]
          .filter(one => one.checkVisibility() && !one.closest(".visually-hidden"))
          .map(one => [one.closest(".tick, .tick-cell, label") ?? one, one])
          .filter(([box]) => {
            const {width, height} = box.getBoundingClientRect();
            return height > 0 && (height < least - 0.5 || width < least - 0.5);
          })
          .map(([box, one]) => one.outerHTML.slice(0, 120))""",
        least_px,
    )
    assert not small, "\n".join([page.url, *small])
