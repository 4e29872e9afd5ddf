"""Every screen without a finger: by keyboard alone, at 200 %, in forced colours, without motion.

WCAG 2.2: 2.1.1 keyboard, 2.1.2 no keyboard trap, 2.4.7 focus visible, 2.4.11 focus not obscured,
1.4.4 resize text (200 %), 1.4.10 reflow, 2.3.3 animation from interactions.
"""

from typing import Any

import pytest
from browser.conftest import Phone, PhoneMaker
from browser.test_every_screen import SCREENS, show

pytestmark = [pytest.mark.browser, pytest.mark.thorough]

# What the keyboard must reach. Of radio buttons under one name the keyboard reaches one by Tab and
# the others by its arrows (HTML, "sequential focus navigation"; ARIA authoring practices).
REACHABLE = """() => {
  const wanted = new Set();
  for (const e of document.querySelectorAll(
      'a[href], button, summary, select, textarea, input:not([type=hidden]), [tabindex="0"]')) {
    if (!e.checkVisibility() || e.disabled) continue;
    wanted.add(e.type === 'radio' ? `radio ${[...document.forms].indexOf(e.form)} ${e.name}` : e);
  }
  window.wanted = wanted;
  return wanted.size;
}"""
# Where the focus stands: what is left to reach, and whether it can be seen there.
FOCUSED = """() => {
  const e = document.activeElement;
  if (!e || e === document.body) return null;
  window.wanted.delete(
    e.type === 'radio' ? `radio ${[...document.forms].indexOf(e.form)} ${e.name}` : e);
  const drawn = (one) => {
    const style = getComputedStyle(one);
    return style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;
  };
  // A choice is drawn by the words beside its radio or tick.
  const seen = drawn(e) || (e.nextElementSibling && drawn(e.nextElementSibling));
  const box = e.getBoundingClientRect();
  const tabs = document.querySelector('.tabs').getBoundingClientRect();
  const hidden = !e.closest('.tabs') && box.height < innerHeight
    && box.top >= tabs.top && getComputedStyle(document.querySelector('.tabs')).position === 'fixed';
  return { html: e.outerHTML.slice(0, 120), seen: Boolean(seen), hidden };
}"""
LEFT = "[...window.wanted].map((e) => e.outerHTML ? e.outerHTML.slice(0, 120) : e)"
MOST_STOPS = 400


MOVING = "(s) => parseFloat(s.transitionDuration) > 0 || s.animationName !== 'none'"
STYLES = "[...document.querySelectorAll('*')].map((e) => getComputedStyle(e))"


@pytest.mark.parametrize("screen", SCREENS)
def test_every_screen_without_a_finger(phone: PhoneMaker, screen: str) -> None:
    one = phone(forced_colors="active", reduced_motion="reduce")
    show(one, screen)
    one.picture(f"{screen}-forced-colours")
    _walk(one)
    assert one.evaluate(f"document.getAnimations().length + {STYLES}.filter({MOVING}).length") == 0
    # A desk's window of 1280 by 1024 at 200 %: half as many of the page's pixels each way.
    one.page.set_viewport_size({"width": 640, "height": 512})
    assert one.evaluate("document.documentElement.scrollWidth") <= 640
    one.picture(f"{screen}-200-percent")


def _walk(one: Phone) -> None:
    """Go once round by Tab: everything is reached, and shown where it is, and no trap."""
    assert one.evaluate(REACHABLE) > 0
    unseen: list[Any] = []
    for _ in range(MOST_STOPS):
        one.page.keyboard.press("Tab")
        stop = one.page.evaluate(FOCUSED)
        if stop is None:
            break
        if not stop["seen"] or stop["hidden"]:
            unseen.append(stop)
    else:
        pytest.fail(f"the keyboard does not come out of the page after {MOST_STOPS} stops")
    assert one.page.evaluate(LEFT) == []
    assert unseen == []
