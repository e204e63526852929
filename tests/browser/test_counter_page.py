"""The page for the counter in a real browser, under a name of the network and plain HTTP.

Sizes: WCAG 2.2 asks for 24 CSS px, Apple for 44 and Android for 48; wet fingers get 48 and 64.
Numbers read at arm's length (60 cm) are 32 px: ISO 9241-3, 20 minutes of arc.
"""

import http.client
import os
import secrets
import threading
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest

from jarcast.cli.at_page import AtPage
from jarcast.ledger import Ledger
from jarcast.measures import Units
from jarcast.page.gate import form_token
from jarcast.page.server import Settings, close, make_server

from .conftest import NAME

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser")]

SMALL = (320, 640)
PHONE, TABLET, DESK = (390, 844), (820, 1180), (1280, 844)
PINTS = "document.querySelector('button[value=pint] .count')"
CUP = 236.5882365  # ml: NIST SP 811, B.8


class Kitchen:
    """A page that is served, a browser that was let in, and another device beside it."""

    def __init__(self, browser: Any, ledger: Path, size: tuple[int, int]) -> None:
        import socket

        with socket.socket() as one:
            one.bind(("127.0.0.1", 0))
            self.port = int(one.getsockname()[1])
        self.browser, self.ledger, self.size = browser, ledger, size
        self.commands = AtPage(ledger)
        settings = Settings(port=self.port, names=(NAME,))
        self.server, self.pairing = make_server(self.commands, ledger, settings)
        self.origin = f"http://{NAME}:{self.port}"
        self.thread = threading.Thread(target=self._run, daemon=True)
        self.thread.start()
        self.pictures = 0

    def _run(self) -> None:
        with suppress(OSError):
            self.server.run()

    def let_in(self) -> None:
        """By the code behind the hash sign, as the camera of a phone opens it."""
        self.browser.visit(f"{self.origin}/pair#{self.pairing.new_code()}", *self.size)
        self.browser.until("location.pathname === '/' && document.title.startsWith('Now')")

    def visit(self, path: str) -> None:
        self.browser.visit(f"{self.origin}{path}", *self.size)

    def path(self) -> str:
        return str(self.browser.told("location.pathname"))

    def other(self, path: str, **fields: str) -> int:
        """A tap on another device, which was let in by a code of its own."""
        token = self.pairing.use(self.pairing.new_code()) or ""
        form = {"token": form_token(token), "key": secrets.token_hex(16), **fields}
        link = http.client.HTTPConnection("127.0.0.1", self.port, timeout=20)
        link.request("POST", path, urlencode(form), {
            "Host": f"{NAME}:{self.port}", "Origin": self.origin,
            "Content-Type": "application/x-www-form-urlencoded",
            "Cookie": f"jarcast-{self.port}={token}",
        })  # fmt: skip
        status = link.getresponse().status
        link.close()
        return status

    def picture(self, name: str) -> None:
        """Kept where PICTURES_OF_PAGES names a folder, to be looked at."""
        if folder := os.environ.get("PICTURES_OF_PAGES"):
            Path(folder).mkdir(exist_ok=True, parents=True)
            self.pictures += 1
            file = Path(folder) / f"{self.size[0]}-{self.pictures:02}-{name}.png"
            file.write_bytes(self.browser.screenshot())

    def jars(self) -> float:
        return float(self.commands.look(bare=True).open[0].jars)

    def close(self) -> None:
        self.browser.offline(False)
        self.browser.send("Page.navigate", url="about:blank")
        close(self.server)
        self.thread.join(timeout=5)
        close(self.server)  # what came in meanwhile


@pytest.fixture
def kitchen(browser: Any, home: Path) -> Iterator[Callable[..., Kitchen]]:
    """Serves a page and lets the browser in, at a size."""
    found: list[Kitchen] = []

    def serve(size: tuple[int, int] = PHONE) -> Kitchen:
        found.append(Kitchen(browser, home / "ledger.sqlite3", size))
        found[-1].let_in()
        return found[-1]

    yield serve
    for one in found:
        one.close()


def typed(one: Kitchen, *signs: str) -> None:
    """Tap signs of the pad, one after the other."""
    for sign in signs:
        one.browser.tap(".pad button", sign)


def answer(one: Kitchen, link: str, *signs: str) -> None:
    """Go to a question of a batch, answer it with the pad, and come back to the batch."""
    one.browser.tap("main a", link)
    one.browser.until("!!document.querySelector('.pad')")
    typed(one, *signs)
    one.picture(link.replace(" ", "-").replace(",", "").lower())
    one.browser.tap("main button.main", "Write it down")
    one.browser.until("/^.batch.\\d+$/.test(location.pathname)")


def shown(one: Kitchen, text: str, seconds: float = 10.0) -> None:
    one.browser.until(f"document.body.innerText.includes({text!r})", seconds)


def begin(one: Kitchen, recipe: str = "none") -> None:
    one.visit("/begin")
    one.browser.until("!!document.querySelector('#recipe')")
    one.browser.told(
        "(() => { for (const [name, value] of [['produce', 'cucumber'], ['cut', 'slices'],"
        f" ['jar', 'pint'], ['recipe', {recipe!r}]])"
        " document.querySelector('#' + name).value = value; })()"
    )
    one.picture("begin")
    one.browser.tap("button.main", "Begin")
    one.browser.until("/^.batch.\\d+$/.test(location.pathname)")


def journey(one: Kitchen) -> None:
    """A batch of two days: salted on the first, packed in two sizes out of two pots on the next."""
    begin(one)
    assert one.browser.told("isSecureContext") is False
    answer(one, "Weight, as bought", "8", "lb")
    answer(one, "Weight, trimmed", "3", "½", "lb", "+ bowl", "3", "lb", "− bowl", "4", "oz")
    shown(one, "trimmed 6 lb 4 oz")
    answer(one, "Salt", "½", "cup")
    answer(one, "Hours in salt", "1", "2")
    one.picture("first-day")
    one.visit("/")  # the next morning
    one.picture("now")
    one.browser.tap("main a.main", "Go on")
    answer(one, "Weight, cured", "5", "½", "lb")
    answer(one, "A pot made", "6", "cups")
    for count in (1, 2, 3):
        one.browser.tap("[data-tap] button[value=pint]")
        shown(one, f"{count} jar")
        one.browser.until(f"{PINTS}.innerText === '{count}'")
    answer(one, "Left in the pot", "3", "½", "cups")
    one.picture("packing")
    lose_the_network(one)
    answer(one, "A pot made", "4", "cups")
    shown(one, "10 cups of brine made")
    one.browser.tap("[data-tap] button[value=half-pint]")
    shown(one, "half-pint")
    one.browser.until("document.querySelector('button[value=half-pint] .count').innerText === '1'")
    one.picture("two-sizes")
    one.browser.tap("main a", "Close the batch")
    one.browser.until("!!document.querySelector('.parts')")
    one.browser.tap(".parts label", "½")
    one.picture("close")
    one.browser.tap("main button.main", "Close the batch")
    one.browser.until("location.pathname === '/'")
    shown(one, "Closed:")
    colour = "getComputedStyle(document.querySelector('{}')).color"
    assert one.browser.told(colour.format(".told.fine")) == one.browser.told(colour.format("body"))
    one.picture("closed")


def lose_the_network(one: Kitchen) -> None:
    """Two taps with the network away: they are kept, said, and sent when it is back."""
    one.browser.offline(True)
    for _ in range(2):
        one.browser.tap("[data-tap] button[value=pint]")
    shown(one, "Waiting to be sent: 2")
    assert one.jars() == 3.0
    one.picture("no-network")
    one.browser.offline(False)
    one.browser.until(f"{PINTS}.innerText === '5'")
    assert one.jars() == 5.0
    one.browser.until("document.querySelector('#line').innerText === ''")


def check_journey(one: Kitchen) -> None:
    with Ledger.open(one.ledger) as opened:
        (batch,) = opened.batches()
    assert dict(zip(batch.jar, batch.jars, strict=True)) == {"pint": 5.0, "half-pint": 1.5}
    assert batch.brine_made_ml == pytest.approx(10 * CUP)
    # 3.5 + 3 lb - 4 oz; a pound is 453.59237 g exactly
    assert batch.trimmed_g == pytest.approx(6.25 * 453.59237)
    assert batch.cure_hours == 12.0


def test_a_batch_of_two_days_on_a_phone(kitchen: Callable[..., Kitchen]) -> None:
    one = kitchen()
    journey(one)
    check_journey(one)


@pytest.mark.slow
@pytest.mark.parametrize("size", [TABLET, DESK])
def test_a_batch_of_two_days_elsewhere(
    kitchen: Callable[..., Kitchen], size: tuple[int, int]
) -> None:
    one = kitchen(size)
    journey(one)
    check_journey(one)


def test_two_devices_on_one_batch_see_each_other_within_three_seconds(
    kitchen: Callable[..., Kitchen],
) -> None:
    one = kitchen()
    begin(one)
    path = one.path()
    assert one.other(f"{path}/ask/trimmed", trimmed="6 lb") == 303
    shown(one, "trimmed 6 lb", 3.0)
    assert one.other(f"{path}/jar", sort="pint") == 303
    one.browser.until("document.querySelector('button[value=pint] .count')?.innerText === '1'", 3.0)
    one.browser.tap("[data-tap] button[value=pint]")
    one.browser.until(f"{PINTS}.innerText === '2'")
    assert one.jars() == 2.0


def test_what_is_being_typed_is_not_written_over(kitchen: Callable[..., Kitchen]) -> None:
    one = kitchen()
    begin(one)
    path = one.path()
    one.browser.tap("main a", "Weight, trimmed")
    one.browser.until("!!document.querySelector('.pad')")
    typed(one, "5", "lb")
    before = one.commands.newest()
    assert one.other(f"{path}/ask/trimmed", trimmed="6 lb") == 303
    assert one.commands.newest() > before
    one.browser.told("new Promise(done => setTimeout(done, 3000))")
    assert one.browser.told("document.querySelector('#trimmed').value") == "5 lb"
    one.browser.tap("main button.main", "Write it down")
    shown(one, "Another device entered '6 lb' meanwhile; you typed '5 lb'")


def test_an_answer_that_was_lost_is_sent_again_and_counts_once(
    kitchen: Callable[..., Kitchen],
) -> None:
    one = kitchen()
    begin(one)
    assert one.other(f"{one.path()}/ask/trimmed", trimmed="6 lb") == 303
    shown(one, "trimmed 6 lb", 3.0)
    one.browser.until("!!document.querySelector('button[value=pint]')")
    # The request reaches the server, and its answer is lost on the way back, once.
    one.browser.told(
        "(() => { const really = window.fetch; let lost = 0;"
        " window.fetch = async (url, how) => { const answer = await really(url, how);"
        " if (how && how.method === 'POST' && !lost++) throw new TypeError('lost');"
        " return answer; }; })()"
    )
    one.browser.tap("[data-tap] button[value=pint]")
    shown(one, "Waiting to be sent: 1")
    one.browser.until(f"{PINTS}.innerText === '1'")
    one.browser.until("document.querySelector('#line').innerText === ''")
    assert one.jars() == 1.0


def test_a_tap_that_is_refused_stays_and_says_why(kitchen: Callable[..., Kitchen]) -> None:
    one = kitchen()
    begin(one)
    path = one.path()
    assert one.other(f"{path}/ask/trimmed", trimmed="6 lb") == 303
    one.browser.until("!!document.querySelector('button[value=pint]')")
    one.browser.offline(True)
    one.browser.tap("[data-tap] button[value=pint]")
    one.browser.tap("[data-tap] button[value=quart]")
    shown(one, "Waiting to be sent: 2")
    name = one.commands.look(bare=True).open[0].at.name
    one.commands.run("close", {"batch": name, "jars": "6"})
    one.browser.offline(False)
    shown(one, "Not taken:", 15.0)
    shown(one, "no longer open")
    for left in (1, 0):
        one.browser.until("!!document.querySelector('#line button')")
        one.browser.tap("#line button", "Take it of")
        one.browser.until(f"document.querySelectorAll('#line button').length === {left}")


def test_without_script_every_form_posts(kitchen: Callable[..., Kitchen]) -> None:
    one = kitchen()
    one.browser.send("Emulation.setScriptExecutionDisabled", value=True)
    try:
        one.visit("/begin")
        one.browser.send("DOM.enable")
        root = one.browser.send("DOM.getDocument")["root"]["nodeId"]

        def focus(selector: str) -> None:
            node = one.browser.send("DOM.querySelector", nodeId=root, selector=selector)
            one.browser.send("DOM.focus", nodeId=node["nodeId"])

        focus("#produce")
        one.browser.send("Input.insertText", text="carrot")
        for kind in ("rawKeyDown", "char", "keyUp"):
            one.browser.send("Input.dispatchKeyEvent", type=kind, key="Enter", code="Enter",
                             windowsVirtualKeyCode=13, text="\r")  # fmt: skip
        for _ in range(100):
            if one.commands.newest():
                break
            threading.Event().wait(0.05)
        assert one.commands.look(bare=True).open[0].at.batch.produce == "carrot"
    finally:
        one.browser.send("Emulation.setScriptExecutionDisabled", value=False)


SCREENS = ("/", "{batch}", "{batch}/ask/trimmed", "{batch}/close", "/begin", "/forecast",
           "/before/habits", "{batch}/card", "/sealed", "/devices", "/pair", "/nix")  # fmt: skip
SIZES = """(() => [...document.querySelectorAll('main button, main a, header a, input, select')]
  .filter(e => e.type !== 'hidden' && e.offsetParent)
  .map(e => { const box = (e.closest('label') || e).getBoundingClientRect();
    return [e.matches('.main') ? 64 : 48, Math.min(box.height, box.width),
      e.outerHTML.slice(0, 90)]; })
  .filter(([due, has]) => has < due))()"""
NUMBERS = """(() =>
  [...document.querySelectorAll('.figure strong, .count, input[type=text]')]
  .map(e => [parseFloat(getComputedStyle(e).fontSize), e.outerHTML.slice(0, 90)])
  .filter(([size]) => size < 32))()"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [PHONE, TABLET])
def test_every_screen_is_for_wet_hands_and_for_everyone(
    kitchen: Callable[..., Kitchen], size: tuple[int, int], scheme: str
) -> None:
    script = os.environ.get("AXE_CORE", "")
    assert script, "AXE_CORE does not name axe-core's axe.min.js: npm install axe-core"
    one = kitchen(size)
    one.browser.scheme(scheme)
    begun = one.commands.run("begin", {"produce": "carrot", "cut": "slices", "pack": "hot",
                                       "recipe": "pickled-carrots"})  # fmt: skip
    name = begun.document["batch"]
    one.commands.run("weigh", {"batch": name, "trimmed": "6 lb", "brine_made": "10 cups"})
    one.commands.run("pack", {"batch": name, "jars": "3", "pot_left": "7 1/4 cups"})
    batch = f"/batch/{one.commands.look(bare=True).open[0].number}"
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
    for screen in SCREENS:
        one.visit(screen.format(batch=batch))
        one.browser.until("document.readyState === 'complete'")
        one.picture(f"{scheme}{screen.format(batch='batch').replace('/', '-')}")
        assert one.browser.told(SIZES) == [], screen
        assert one.browser.told(NUMBERS) == [], screen
        assert one.browser.told("document.documentElement.scrollWidth") <= size[0], screen
        one.browser.told(Path(script).read_text(encoding="utf-8") + ";0")
        said = "r.violations.map(v => [v.id, v.nodes.map(n => n.html.slice(0, 120))])"
        found = one.browser.told(f"axe.run({{runOnly: {tags}}}).then(r => {said})")
        assert found == [], screen
    one.browser.scheme("light")


BROKEN = """(() => {
  const found = [];
  for (const box of document.querySelectorAll('.figure strong, .count, .pad button, .figure dt')) {
    const walk = document.createTreeWalker(box, NodeFilter.SHOW_TEXT);
    for (let node; (node = walk.nextNode());) {
      for (const word of node.data.matchAll(/\\S+/g)) {
        const range = document.createRange();
        range.setStart(node, word.index);
        range.setEnd(node, word.index + word[0].length);
        const lines = new Set(Array.from(range.getClientRects(), (r) => Math.round(r.top)));
        const over = range.getBoundingClientRect().right > box.closest('.figure, button, a')
          .getBoundingClientRect().right;
        if (lines.size > 1 || over) found.push(word[0]);
      }
    }
  }
  return found; })()"""


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("size", [SMALL, (360, 740), PHONE])
def test_no_figure_and_no_key_is_broken_within_a_word(
    kitchen: Callable[..., Kitchen], size: tuple[int, int], units: str
) -> None:
    one = kitchen(size)
    one.commands.run("begin", {"produce": "carrot", "cut": "slices", "pack": "hot",
                               "recipe": "pickled-carrots", "units": Units(units)})  # fmt: skip
    batch = f"/batch/{one.commands.look(bare=True).open[0].number}"
    packed = {"jars": "3", "pot_left": "7 1/4 cups"}
    for more in ({"trimmed": "12 lb 7 oz"}, {"brine_made": "11 cups"}, packed):
        one.commands.run("pack" if "jars" in more else "weigh", {**more, "yes": True})
        for screen in ("/", batch, f"{batch}/ask/more_brine", f"{batch}/ask/trimmed"):
            one.visit(screen)
            one.browser.until("document.readyState === 'complete'")
            assert one.browser.told(BROKEN) == [], screen
            assert one.browser.told("document.documentElement.scrollWidth") <= size[0], screen
        one.picture(f"figures-{units}")


@pytest.mark.parametrize("size", [SMALL, PHONE])
def test_a_table_is_read_on_a_phone_without_moving_it_sideways(
    kitchen: Callable[..., Kitchen], size: tuple[int, int]
) -> None:
    one = kitchen(size)
    for number in range(4):
        one.commands.run("record", {
            "produce": "cucumber", "cut": "slices", "jar": "pint", "jars": f"{6 + number}.5",
            "as_bought": f"{7 + number} lb 4 1/2 oz", "trimmed": f"{6 + number} lb", "yes": True,
            "brine_made": "10 cups", "brine_left": "1/2 cup", "cure_hours": "0",
        })  # fmt: skip
    for screen in ("/before/batches", "/before/habits", "/before/hindsight",
                   "/forecast?produce=cucumber&cut=slices&trimmed=5+lb"):  # fmt: skip
        one.visit(screen)
        one.browser.until("document.readyState === 'complete'")
        one.picture(screen.partition("?")[0].replace("/", "-"))
        wide = "[...document.querySelectorAll('.wide')].filter(e => e.scrollWidth > e.clientWidth)"
        assert one.browser.told(f"{wide}.length") == 0, screen
        assert one.browser.told("document.documentElement.scrollWidth") <= size[0], screen
        assert one.browser.told("document.querySelectorAll('pre').length") == 0, screen


def test_the_page_has_one_column_on_a_phone_and_two_on_a_tablet(
    kitchen: Callable[..., Kitchen],
) -> None:
    columns = (
        "getComputedStyle(document.querySelector('main')).gridTemplateColumns.split(' ').length"
    )
    one = kitchen(TABLET)
    assert one.browser.told(columns) == 2
    one.size = PHONE
    one.visit("/")
    assert one.browser.told("getComputedStyle(document.querySelector('main')).display") == "block"


def test_a_place_tapped_again_and_again_counts_one_sort_of_jar(
    kitchen: Callable[..., Kitchen],
) -> None:
    one = kitchen()
    begin(one, "quick-fresh-pack-dill")
    for name, text in (("trimmed", "8 lb 12 oz"), ("more_brine", "11 cups")):
        assert one.other(f"{one.path()}/ask/{name}", **{name: text}) == 303
    one.visit(one.path())
    quarts = "document.querySelector('button[value=quart]')"
    one.browser.until(f"!!{quarts}")
    one.browser.told(f"{quarts}.scrollIntoView({{block: 'center', behavior: 'instant'}})")
    x, y = one.browser.told(
        f"(r => [r.x + r.width / 2, r.y + r.height / 2])({quarts}.getBoundingClientRect())"
    )
    top = f"{quarts}.getBoundingClientRect().top"
    stood = one.browser.told(top)
    for count in (1, 2, 3):
        for kind in ("mousePressed", "mouseReleased"):
            one.browser.send("Input.dispatchMouseEvent", type=kind, x=x, y=y, button="left",
                             clickCount=1)  # fmt: skip
        one.browser.until(f"{quarts}.querySelector('.count').innerText === '{count}'")
        one.browser.until("!sending")
        assert one.browser.told(top) == pytest.approx(stood, abs=1.0)  # CSS px
    assert dict(one.commands.look(bare=True).open[0].packed) == {"quart": 3.0}


@pytest.mark.parametrize("block", ["start", "center", "end"])
@pytest.mark.parametrize("size", [PHONE, SMALL])
def test_what_is_said_of_a_tap_is_seen_where_one_looks_and_hides_no_button(
    kitchen: Callable[..., Kitchen], size: tuple[int, int], block: str
) -> None:
    one = kitchen(size)
    begin(one)
    path = one.path()
    assert one.other(f"{path}/ask/trimmed", trimmed="6 lb") == 303
    one.browser.until("!!document.querySelector('button[value=pint]')")
    button = "document.querySelector('button[value=pint]')"
    one.browser.told(f"{button}.scrollIntoView({{block: '{block}', behavior: 'instant'}})")
    box = f"(r => [r.left + r.width / 2, r.top + r.height / 2])({button}.getBoundingClientRect())"
    x, y = one.browser.told(box)
    said = "(r => [r.top, r.bottom])(document.querySelector('#line').getBoundingClientRect())"

    def check() -> None:
        assert one.browser.told(box) == pytest.approx([x, y], abs=3.0)  # pressed, it sinks 2 px
        top, bottom = one.browser.told(said)
        assert 0 <= top < bottom <= size[1]
        assert one.browser.told(f"!!document.elementFromPoint({x}, {y}).closest('button.main')")

    one.browser.offline(True)
    for kind in ("mousePressed", "mouseReleased"):
        one.browser.send("Input.dispatchMouseEvent", type=kind, x=x, y=y, button="left",
                         clickCount=1)  # fmt: skip
    shown(one, "Waiting to be sent: 1")
    check()
    one.picture(f"waiting-{block}")
    name = one.commands.look(bare=True).open[0].at.name
    one.commands.run("close", {"batch": name, "jars": "6"})
    one.browser.offline(False)
    shown(one, "Not taken:", 15.0)
    check()
    one.picture(f"not-taken-{block}")
    one.browser.tap("#line button", "Take it of")
