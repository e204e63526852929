"""What the page says and does, form by form: the commands' own answers, and nothing twice."""

import datetime as dt
import re
import secrets
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from jarcast.cli.at_page import AtPage
from jarcast.ledger import Ledger
from jarcast.page import screens
from jarcast.recipes import safety_block, shipped_recipes

from .conftest import Device


def text_of(answer: Any) -> str:
    """What a page says, its tags taken out."""
    bare = re.sub(r"<[^>]+>", " ", answer.text)
    return re.sub(r"\s+", " ", bare.replace("&#39;", "'").replace("&#34;", '"'))


def packed(device: Any, path: str) -> float:
    number = int(path.rpartition("/")[2])
    return float(device.commands.look(number).open[0].jars)


def test_a_batch_goes_from_its_beginning_to_the_ledger(device: Any, ledger: Path) -> None:
    path = device.begin(recipe="none")
    assert device.post(f"{path}/ask/trimmed", trimmed="2,7 kg").status_code == 303
    assert device.post(f"{path}/ask/more_brine", more_brine="9 cups").status_code == 303
    for _ in range(3):
        assert device.post(f"{path}/jar", sort="pint").status_code == 303
    device.post(f"{path}/ask/pot_left", pot_left="6½ cups")
    page = text_of(device.get(path))
    assert "3 jars packed" in page
    assert "Still to come" in page
    answer = device.post(
        f"{path}/close", jars__pint="9", part="1/2", brine_left="1 cup", sealed="9"
    )
    assert (answer.status_code, answer.headers["Location"].partition("?")[0]) == (303, "/")
    with Ledger.open(ledger) as opened:
        (batch,) = opened.batches()
    assert batch.trimmed_g == 2700.0  # a decimal comma
    assert (batch.jar, batch.jars, batch.sealed) == (("pint",), (9.5,), 9.0)
    # 9 cups made and 1 left; a US cup is 236.5882365 ml (NIST SP 811, B.8)
    assert batch.brine_made_ml == pytest.approx(9 * 236.5882365, rel=1e-6)
    assert batch.brine_left_ml == pytest.approx(236.5882365, rel=1e-6)


def test_what_went_as_asked_has_no_warning_s_colour_and_a_warning_has(device: Any) -> None:
    path = device.begin()
    closed = device.post(f"{path}/close", jars__pint="4", yes="on")
    page = device.get(closed.headers["Location"]).text
    assert re.search(r'<p class="told fine">Closed: ', page)
    undone = device.post("/undo", saw=str(device.commands.newest()))
    assert '<p class="told fine">Taken back.' in device.get(undone.headers["Location"]).text
    refused = device.post(f"{path}/close", jars__pint="4.5")
    assert '<p class="told" id="why">' in refused.text


def test_a_form_sent_twice_counts_once(device: Any) -> None:
    path = device.begin()
    before, form = device.commands.newest(), {"key": secrets.token_hex(16), "sort": "pint"}
    first, second = device.post(f"{path}/jar", **form), device.post(f"{path}/jar", **form)
    assert (first.status_code, second.status_code) == (303, 303)
    assert packed(device, path) == 1.0
    assert device.commands.newest() == before + 1
    again = device.again()  # and by a server that was started anew
    assert again.post(f"{path}/jar", **form).status_code == 303
    assert packed(again, path) == 1.0


def test_a_key_with_another_form_is_refused(device: Any) -> None:
    # draft-ietf-httpapi-idempotency-key-header: the same key, another payload, is 422
    path, key = device.begin(), secrets.token_hex(16)
    assert device.post(f"{path}/ask/trimmed", key=key, trimmed="5 lb").status_code == 303
    assert device.post(f"{path}/ask/trimmed", key=key, trimmed="6 lb").status_code == 422
    assert device.post(f"{path}/ask/cooked", key=key, cooked="5 lb").status_code == 422
    assert "trimmed 5 lb" in text_of(device.get(path))


@pytest.mark.parametrize("key", ["", "x", "G" * 32, "a" * 31, "a" * 33])
def test_a_form_without_a_key_of_its_own_is_refused(device: Any, key: str) -> None:
    assert device.post("/begin", key=key, produce="carrot").status_code == 400
    assert device.commands.look().open == []


def test_the_key_stands_in_the_action_that_it_asked_for(device: Any, ledger: Path) -> None:
    path, key = device.begin(), secrets.token_hex(16)
    device.post(f"{path}/ask/trimmed", key=key, trimmed="5 lb")
    with Ledger.open(ledger) as opened:
        rows = opened.rows(
            "SELECT kind, length(request) FROM action WHERE request LIKE ? || ':%'", key
        )
    assert rows == [("weigh", 32 + 1 + 64)]  # and SHA-256 in hexadecimal


def test_what_is_refused_is_said_in_the_words_of_the_page_and_can_be_kept(device: Any) -> None:
    path = device.begin()
    device.post(f"{path}/ask/brine_made", brine_made="9 cups")
    device.post(f"{path}/jar", sort="pint")
    answer = device.post(f"{path}/ask/brine_made", brine_made="1 cup")
    assert answer.status_code == 422
    said = text_of(answer)
    assert "less than the" in said
    assert "--" not in said
    assert 'value="1 cup"' in answer.text  # what was typed is kept
    assert device.post(f"{path}/ask/brine_made", brine_made="1 cup", yes="on").status_code == 303


def test_what_cannot_be_read_is_refused_and_nothing_is_written(device: Any) -> None:
    path = device.begin()
    before = device.commands.newest()
    for typed in ("", "five", "-3 lb", "5 miles", "1,250 g"):
        assert device.post(f"{path}/ask/trimmed", trimmed=typed).status_code == 422, typed
    assert device.post(f"{path}/jar", sort="bucket").status_code == 400
    assert device.post(f"{path}/close", jars__pint="4.5").status_code == 422
    assert device.commands.newest() == before


SURE = "It is right; keep it"


@pytest.mark.parametrize(
    ("screen", "typed", "still"),
    [
        ("close", {"jars__pint": "5.5", "part": "1/4"}, ('value="5.5"', 'value="1/4" checked')),
        ("close", {"jars__pint": "5", "sealed": "all"}, ('value="5"', 'value="all"')),
        ("ask/trimmed", {"trimmed": ""}, ('data-kind="weight"',)),
        ("ask/trimmed", {"trimmed": "5 miles"}, ('value="5 miles"', 'data-kind="weight"')),
        ("ask/pot_left", {"pot_left": "3"}, ('value="3"', 'data-kind="volume"')),
    ],
)
def test_a_form_that_was_refused_is_the_same_form_with_what_was_typed(
    device: Any, screen: str, typed: dict[str, str], still: tuple[str, ...]
) -> None:
    path = device.begin(recipe="pickled-carrots", cut="slices", pack="hot")
    before = device.get(f"{path}/{screen}")
    answer = device.post(f"{path}/{screen}", **typed)
    assert answer.status_code == 422
    assert 'id="why"' in answer.text
    assert SURE not in answer.text  # nothing that was read could be right
    for one in still:
        assert one in answer.text
    labels = re.compile(r"<label[^>]*>.*?</label>|<legend>.*?</legend>|<h1>.*?</h1>", re.DOTALL)
    words = [re.sub(r"<[^>]*>", "", one) for one in labels.findall(before.text)]
    assert [re.sub(r"<[^>]*>", "", one) for one in labels.findall(answer.text)] == words
    assert "vinegar" in text_of(answer)  # the card's numbers, as on every screen of its batch


def test_a_refused_beginning_keeps_its_menus_and_what_was_chosen(device: Any) -> None:
    answer = device.post("/begin", produce="carrot", recipe="pickled-carrots", pack="raw")
    assert answer.status_code == 422
    page = answer.text
    assert 'value="pickled-carrots" selected' in page
    assert re.search(r'value="raw" checked', page)
    assert '<label class="field" for="person">Who packs</label>' in page
    assert '<label class="field" for="produce">Crop</label>' in page
    assert SURE not in page


def test_what_may_be_right_can_be_kept_and_is_asked_back_but_once(device: Any) -> None:
    answer = device.post("/begin", produce="carrrot", cut="sticks")
    assert answer.status_code == 422
    assert SURE in answer.text
    again = device.post("/begin", produce="carrrot", cut="sticks", yes="on")
    assert again.status_code == 303
    assert device.commands.look(bare=True).open[0].at.batch.produce == "carrrot"


def test_what_is_asked_back_at_the_counter_can_be_kept(device: Any) -> None:
    path = device.begin(recipe="pickled-carrots", cut="slices", pack="hot")
    device.post(f"{path}/ask/brine_made", brine_made="9 cups")
    answer = device.post(f"{path}/ask/brine_made", brine_made="1 cup")
    assert answer.status_code == 422
    assert SURE in answer.text
    assert "vinegar" in text_of(answer)
    assert device.post(f"{path}/ask/brine_made", brine_made="1 cup", yes="on").status_code == 303


def test_undo_is_the_commands_own_and_goes_on(device: Any) -> None:
    path = device.begin()
    for weight in ("5 lb", "6 lb"):
        device.post(f"{path}/ask/trimmed", trimmed=weight)
    for left in ("trimmed 5 lb", "nothing weighed yet"):
        saw = re.search(r'name="saw" value="(\d+)"', device.get(path).text)
        assert saw is not None
        assert device.post(f"{path}/undo", saw=saw[1]).status_code == 303
        assert left in text_of(device.get(path))
    with Ledger.open(device.ledger) as opened:
        assert opened.rows("SELECT count(*) FROM undone") == [(2,)]  # nothing is deleted


def test_an_undo_of_what_another_device_did_meanwhile_is_refused(device: Any) -> None:
    path = device.begin()
    device.post(f"{path}/jar", sort="pint")
    saw = str(device.commands.look().open[0].newest)
    device.post(f"{path}/jar", sort="pint")
    assert device.post(f"{path}/undo", saw=saw).status_code == 409
    assert device.post("/undo", saw=str(device.commands.newest() - 1)).status_code == 409
    assert packed(device, path) == 2.0


def test_two_devices_that_say_the_same_thing_differently_see_both(device: Any) -> None:
    path = device.begin()
    device.post(f"{path}/ask/trimmed", trimmed="5 lb", saw="1")
    answer = device.post(f"{path}/ask/trimmed", trimmed="6 lb", saw="1")
    assert answer.status_code == 409
    assert "entered '5 lb'" in text_of(answer)
    assert "you typed '6 lb'" in text_of(answer)
    # taps add up, and what another device said of something else is in nobody's way
    assert device.post(f"{path}/ask/cooked", cooked="4 lb", saw="1").status_code == 303


@pytest.mark.parametrize("second", ["11 cups", "11 c", "4 cups"])
def test_a_pot_that_two_devices_write_down_is_asked_about(device: Any, second: str) -> None:
    # Two people at one counter write down the one pot that both see.
    path = device.begin()
    saw = str(device.commands.newest())
    assert device.post(f"{path}/ask/more_brine", saw=saw, more_brine="11 cups").status_code == 303
    answer = device.post(f"{path}/ask/more_brine", saw=saw, more_brine=second)
    assert answer.status_code == 409
    assert "If it is the same one, go back" in text_of(answer)
    assert device.commands.look(bare=True).open[0].at.typed["brine_made"] == "11 cups"
    # it was another pot after all
    assert device.post(f"{path}/ask/more_brine", more_brine=second).status_code == 303
    made = device.commands.look(bare=True).open[0].at.typed["brine_made"]
    assert made == f"11 cups + {second}"


@pytest.mark.parametrize(
    ("name", "text"), [("trimmed", "6 lb"), ("brine_made", "9 cups"), ("note", "windy")]
)
def test_what_stands_there_once_whoever_says_it_is_no_matter(
    device: Any, name: str, text: str
) -> None:
    path = device.begin()
    saw = str(device.commands.newest())
    for _ in range(2):
        answer = device.post(f"{path}/ask/{name}", saw=saw, **{name: text})
        assert answer.status_code == 303
    assert device.commands.look(bare=True).open[0].at.typed[name] == text


def test_taps_of_two_devices_add_up(device: Any) -> None:
    path = device.begin()
    other = device.again()
    for one in (device, other, device, other, other):
        assert one.post(f"{path}/jar", sort="pint").status_code == 303
    assert packed(device, path) == 5.0


def buttons(device: Any, path: str) -> list[str]:
    """The jars that one can tap, in the order they stand in."""
    return re.findall(r'name="sort" value="([^"]+)"', device.get(path).text)


@pytest.mark.parametrize(
    "begun",
    [
        {"produce": "cucumber", "cut": "slices", "recipe": "quick-fresh-pack-dill", "jar": "pint"},
        {"produce": "carrot", "recipe": "none", "jar": "pint"},
        {"produce": "carrot", "recipe": "none", "jar": ""},
        {"produce": "carrot", "recipe": "none", "jar": "2 pint-wide, then quart"},
    ],
)
def test_a_jar_stays_where_it_is_after_a_tap(device: Any, begun: dict[str, str]) -> None:
    # The same place tapped again and again counts the same jar.
    path = device.begin(pack="raw", **begun)
    device.post(f"{path}/ask/trimmed", trimmed="8 lb 12 oz")
    stood = buttons(device, path)
    assert len(stood) >= 2
    for sort in (stood[-1], stood[-1], stood[0], stood[-1]):
        assert device.post(f"{path}/jar", sort=sort).status_code == 303
        assert buttons(device, path) == stood
    counted = device.commands.look(bare=True).open[0].packed
    assert dict(counted) == {stood[-1]: 3.0, stood[0]: 1.0}


def test_a_jar_counted_at_the_terminal_gets_a_button_after_the_others(device: Any) -> None:
    path = device.begin(recipe="none")
    device.post(f"{path}/ask/trimmed", trimmed="8 lb")
    stood, name = buttons(device, path), device.commands.look(bare=True).open[0].at.name
    for jars in ("2 pint + 1 12-oz", "2 pint + 1 12-oz + 1 quart-wide"):
        device.commands.run("pack", {"batch": name, "jars": jars, "yes": True})
    found = buttons(device, path)
    assert found[: len(stood)] == stood
    assert {*found} >= {"12-oz", "quart-wide"}


def test_the_terminal_and_the_page_work_on_one_batch(device: Any, run: Callable[..., Any]) -> None:
    path = device.begin()
    name = device.commands.look().open[0].at.name
    assert run("weigh", "--trimmed", "6 lb", "--batch", name).code == 0
    assert "trimmed 6 lb" in text_of(device.get(path))
    device.post(f"{path}/jar", sort="pint")
    shown = run().out
    assert "1 jar packed" in " ".join(shown.split())
    assert run("close", "--jars", "9", "--batch", name).code == 0
    gone = device.post(f"{path}/jar", sort="pint")
    assert gone.status_code == 404
    assert "no longer open" in text_of(gone)


def test_two_sizes_of_jar_and_a_second_pot(device: Any, ledger: Path) -> None:
    path = device.begin()
    device.post(f"{path}/ask/trimmed", trimmed="3 lb")
    device.post(f"{path}/ask/more_brine", more_brine="6 cups")
    for sort in ("pint", "pint", "half-pint"):
        assert device.post(f"{path}/jar", sort=sort).status_code == 303
    device.post(f"{path}/ask/more_brine", more_brine="4 cups")
    assert "10 cups of brine made" in text_of(device.get(path))
    answer = device.post(f"{path}/close", jars__pint="2", **{"jars__half-pint": "3"}, part="3/4")
    assert answer.status_code == 303
    with Ledger.open(ledger) as opened:
        (batch,) = opened.batches()
    assert dict(zip(batch.jar, batch.jars, strict=True)) == {"pint": 2.0, "half-pint": 3.75}


CARDS = [key for key, card in sorted(shipped_recipes().items()) if card.safety is not None]


def test_the_numbers_of_the_card_stand_on_every_screen_of_its_batch(device: Any) -> None:
    path = device.begin(recipe="pickled-carrots", cut="slices", pack="hot")
    device.post(f"{path}/ask/trimmed", trimmed="6 lb")
    card = shipped_recipes()["pickled-carrots"]
    block = safety_block(card, "pint", pack="hot")
    due = [re.sub(r"[\d ]?[½¼¾]|\d/\d", "", line).strip() for line in block.splitlines()]
    due = [" ".join(line.split()) for line in due if "process" in line or "vinegar:" in line]
    assert len(due) >= 3
    for screen in ("/", path, f"{path}/close", f"{path}/ask/more_brine", f"{path}/ask/pot_left"):
        page = text_of(device.get(screen))
        for line in due:
            assert line in page, (screen, line)
    device.post(f"{path}/jar", sort="pint")
    for line in due:
        assert line in text_of(device.get(path))


def test_the_whole_card_is_one_tap_away_and_named_by_no_command(device: Any) -> None:
    path = device.begin(recipe="pickled-carrots", cut="slices", pack="hot")
    page = device.get(path)
    assert "jarcast recipes" not in page.text
    assert f'href="{path}/card"' in page.text
    card = text_of(device.get(f"{path}/card"))
    for line in ("process:", "headspace:", "Cautions", "wipe the rim"):  # as recipes show has it
        assert line in card, line
    bare = device.begin(recipe="none")
    assert f'href="{bare}/card"' not in device.get(bare).text
    assert device.get(f"{bare}/card").status_code == 404


def test_what_goes_into_the_brine_stands_right_under_what_to_heat(device: Any) -> None:
    path = device.begin(recipe="pickled-carrots", cut="slices", pack="hot")
    device.post(f"{path}/ask/trimmed", trimmed="6 lb")
    said = text_of(device.get(path))
    places = [said.index(words) for words in ("Brine to", "The whole formula", "white vinegar")]
    assert places == sorted(places)
    assert said.index("white vinegar") < said.index("By the tested recipe")
    assert said.count("The whole formula") == 1


def test_who_packs_is_told_on_the_screen_of_the_batch_and_can_be_asked_for(device: Any) -> None:
    path = device.begin(person="Bo")
    assert "packed by Bo" in text_of(device.get(path))
    answer = device.get("/forecast?produce=carrot&cut=sticks&trimmed=5+lb&person=Ada")
    assert 'id="why"' not in answer.text
    assert 'name="person" type="text" value="Ada"' in answer.text
    assert "--person" not in answer.text


@pytest.mark.filterwarnings("ignore::jarcast.errors.NearName")  # as the command line does
def test_a_misspelt_crop_can_be_kept_where_a_forecast_is_asked_for(device: Any) -> None:
    asked = "/forecast?produce=carrrot&cut=sticks&trimmed=5+lb"
    refused = device.get(asked)
    assert SURE in refused.text
    assert "as-named" not in refused.text
    assert "8 times in 10" in text_of(device.get(f"{asked}&yes=on"))


def test_a_beginning_without_a_crop_says_what_is_wanted(device: Any) -> None:
    answer = device.post("/begin", produce="", cut="", recipe="")
    assert answer.status_code == 422
    assert "Say what you are putting up under Crop" in text_of(answer)


def test_a_jar_or_a_pack_that_the_card_does_not_list_is_refused(device: Any) -> None:
    path = device.begin(recipe="pickled-carrots", cut="slices", pack="hot")
    assert device.post(f"{path}/jar", sort="quart").status_code == 400
    assert 'value="quart"' not in device.get(path).text
    answer = device.post("/begin", produce="carrot", recipe="pickled-carrots", pack="raw")
    assert answer.status_code == 422
    assert "does not list a raw pack" in text_of(answer)


def test_a_batch_without_a_card_says_what_to_heed(device: Any) -> None:
    path = device.begin(recipe="none")
    for screen in ("/", path, f"{path}/ask/trimmed", f"{path}/close"):
        assert "No tested recipe is named" in text_of(device.get(screen)), screen


def test_last_time_is_one_tap_away(device: Any, run: Callable[..., Any]) -> None:
    run("record", "--produce", "carrot", "--cut", "sticks", "--pack", "raw", "--jar", "quart",
        "--jars", "4", "--trimmed", "5 lb")  # fmt: skip
    page = device.get("/begin").text
    assert 'name="produce" value="carrot"' in page
    path = device.begin(produce="carrot", cut="sticks", pack="", jar="")
    assert device.commands.look().open[0].at.batch.jar == ("quart",)
    assert device.get(path).status_code == 200


def test_sealed_is_said_later(device: Any, ledger: Path) -> None:
    path = device.begin()
    device.post(f"{path}/close", jars__pint="4")
    name = re.search(r'name="batch" value="([^"]+)"', device.get("/").text)
    assert name is not None
    assert device.post("/sealed", batch=name[1], sealed="4").status_code == 303
    with Ledger.open(ledger) as opened:
        assert opened.batches()[0].sealed == 4.0
    assert "how many jars sealed" not in device.get("/").text


@pytest.mark.parametrize("count", ["77", "9", "75"])
def test_more_sealed_than_were_filled_is_asked_about(device: Any, ledger: Path, count: str) -> None:
    # Seven full jars and a part-full one are eight lids: no more can seal.
    path = device.begin()
    device.post(f"{path}/close", jars__pint="7", part="1/2")
    name = re.search(r'name="batch" value="([^"]+)"', device.get("/").text)
    assert name is not None
    answer = device.post("/sealed", batch=name[1], sealed=count)
    assert answer.status_code == 422
    assert f"{count} sealed of 7.5 pint" in text_of(answer)
    with Ledger.open(ledger) as opened:
        assert opened.batches()[0].sealed is None
    assert device.post("/sealed", batch=name[1], sealed=count, yes="on").status_code == 303
    with Ledger.open(ledger) as opened:
        assert opened.batches()[0].sealed == float(count)


@pytest.mark.parametrize("count", ["", "seven", "-1"])
def test_a_count_of_sealed_jars_that_is_none_is_refused(device: Any, count: str) -> None:
    device.post(f"{device.begin()}/close", jars__pint="7")
    name = re.search(r'name="batch" value="([^"]+)"', device.get("/").text)
    assert name is not None
    before = device.commands.newest()
    assert device.post("/sealed", batch=name[1], sealed=count).status_code == 422
    assert device.commands.newest() == before


def test_many_batches_to_be_counted_leave_the_first_screen_short(
    device: Any, run: Callable[..., Any]
) -> None:
    today = dt.date.today()
    days = [today - dt.timedelta(days=back) for back in (1, 0, 3, 2, 5, 4)]
    for number, day in enumerate(days):
        device.commands.run("record", {
            "produce": "carrot", "cut": "sticks", "jar": "pint", "jars": f"{number + 4}.5",
            "batch": f"D{number}", "date": day.isoformat(), "yes": True,
        })  # fmt: skip
    page = device.get("/").text
    assert re.findall(r'name="batch" value="([^"]+)"', page) == ["D1", "D0", "D3"]  # by date
    assert page.index("Undo the last thing done") < page.index("Sealed?")
    said = text_of(device.get("/"))
    assert "D1 carrot, sticks; 5½ pints" in said  # as one writes on the lid
    assert "All 6 batches" in said
    every = re.findall(r'name="batch" value="([^"]+)"', device.get("/sealed").text)
    assert every == ["D1", "D0", "D3", "D2", "D5", "D4"]
    answer = device.post("/sealed", batch="D4", sealed="8", list="on")
    assert answer.headers["Location"].partition("?")[0] == "/sealed"
    assert 'value="D4"' not in device.get("/sealed").text


@pytest.mark.parametrize("alone", [True, False])
def test_a_code_for_another_device_is_offered_where_one_can_reach_the_page(
    ledger: Path, alone: bool
) -> None:
    # 127.0.0.1 is the machine itself on every machine: RFC 1122, 3.2.1.3
    device = Device(ledger, alone=alone).pair()
    for answer in (device.get("/devices"), device.post("/devices")):
        assert ("--lan" in answer.text) is alone
    assert ("camera" in answer.text) is not alone
    assert re.search(r'class="code">[0-9A-Z-]{17}<', answer.text)


def test_a_code_that_does_not_hold_says_where_a_new_one_comes_from(stranger: Any) -> None:
    said = text_of(stranger.post("/pair", code="ABCD"))
    assert "under Devices" in said
    assert "'jarcast serve' again" in said


def test_fewer_sealed_than_filled_says_what_to_do_with_the_others(device: Any) -> None:
    device.post(f"{device.begin()}/close", jars__pint="7")
    name = re.search(r'name="batch" value="([^"]+)"', device.get("/").text)
    assert name is not None
    answer = device.post("/sealed", batch=name[1], sealed="5")
    assert "within 24 hours" in text_of(device.get(answer.headers["Location"]))  # USDA, Guide 1


def test_a_forecast_is_asked_and_writes_nothing(device: Any) -> None:
    before = device.commands.newest()
    page = text_of(device.get("/forecast?produce=carrot&cut=sticks&trimmed=5+lb"))
    assert "8 times in 10" in page
    assert "no forecast" not in page.lower()
    refused = device.get("/forecast?produce=carrot&trimmed=five")
    assert 'id="why"' in refused.text
    assert device.commands.newest() == before


def test_batches_habits_and_the_track_record_are_there(
    device: Any, run: Callable[..., Any]
) -> None:
    run("record", "--produce", "okra", "--jar", "pint", "--jars", "4", "--trimmed", "5 lb")
    assert "okra" in device.get("/before/batches").text.lower()
    for what in ("habits", "hindsight"):
        assert device.get(f"/before/{what}").status_code == 200
    assert device.get("/before/nothing").status_code == 404


def test_the_state_is_told_by_an_etag_that_another_server_does_not_share(device: Any) -> None:
    first = device.get("/state")
    tag = {"If-None-Match": first.headers["ETag"]}
    assert device.get("/state", **tag).status_code == 304
    device.begin()
    assert device.get("/state", **tag).status_code == 200
    assert re.fullmatch(r'"[^"]+-[0-9a-f]{8}-\d+"', first.headers["ETag"])


def test_looking_at_an_empty_ledger_makes_no_file(device: Any, ledger: Path) -> None:
    assert "No batch is open" in text_of(device.get("/"))
    assert not ledger.exists()


@pytest.mark.parametrize(
    ("packed", "part", "said"),
    [
        ({"pint": 3.0}, "0", "3 pint"),
        ({"pint": 3.0}, "1/2", "3.5 pint"),
        ({"pint": 4.0, "half-pint": 2.0}, "1/4", "4 pint + 2.25 half-pint"),
        ({"pint": 0.0}, "3/4", "0.75 pint"),
        ({"pint": 0.0}, "0", "0"),
    ],
)
def test_the_part_full_jar_is_the_last(packed: dict[str, float], part: str, said: str) -> None:
    assert screens.with_part(packed, part) == said


def chosen(page: str) -> dict[str, str]:
    """What a form says as it stands, nothing typed: its fields, its picture, its menu."""
    found = dict(re.findall(r'name="(jars-[^"]+)"[^>]* value="([^"]*)"', page))
    found |= re.findall(r'name="(part)" value="([^"]+)" checked', page)
    menu = re.search(r'value="([^"]*)" selected', page)
    return found if menu is None else {**found, "part_of": menu[1]}


@pytest.mark.parametrize(
    ("noted", "kept"),
    [
        ("3.5", {"pint": 3.5}),
        ("3.25 pint", {"pint": 3.25}),
        ("4 pint", {"pint": 4.0}),
        ("3.3", {"pint": 3.3}),  # no picture shows it, and it is kept all the same
        ("2 quart + 3.5 pint", {"quart": 2.0, "pint": 3.5}),
        ("3.75 quart + 2 pint", {"quart": 3.75, "pint": 2.0}),
    ],
)
def test_the_form_at_the_end_has_what_was_noted_of_the_jars(
    device: Any, ledger: Path, noted: str, kept: dict[str, float]
) -> None:
    # Nothing is typed anew: what the terminal was told is what is written down.
    path = device.begin(recipe="none")
    name = device.commands.look(bare=True).open[0].at.name
    device.commands.run("pack", {"batch": name, "jars": noted, "yes": True})
    form = chosen(device.get(f"{path}/close").text)
    answer = device.post(f"{path}/close", **form)
    assert answer.status_code == 303, text_of(answer)
    with Ledger.open(ledger) as opened:
        (batch,) = opened.batches()
    assert dict(zip(batch.jar, batch.jars, strict=True)) == kept


def test_it_learns_again_only_when_a_closed_batch_has_changed(
    device: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    from jarcast.forecast import habits

    learned: list[int] = []
    really = habits.habits_from

    def counted(batches: Any, *rest: Any, **more: Any) -> Any:
        learned.append(len(batches))
        return really(batches, *rest, **more)

    monkeypatch.setattr(habits, "habits_from", counted)
    path = device.begin()
    device.post(f"{path}/ask/trimmed", trimmed="5 lb")
    for _ in range(4):
        device.post(f"{path}/jar", sort="pint")
        device.get(path)
    assert learned == [0]
    device.post(f"{path}/close", jars__pint="8")
    device.begin(produce="carrot")
    device.get("/")
    assert learned[-1] == 1
    name = device.commands.choices().last[0].batch
    device.post("/sealed", batch=name, sealed="8")
    other = device.commands.look().open[0]
    device.post(f"/batch/{other.number}/ask/trimmed", trimmed="5 lb")
    assert len(learned) <= 4


def test_what_is_kept_in_the_process_forecasts_as_a_fresh_one_does(device: Any) -> None:
    path = device.begin()
    device.post(f"{path}/ask/trimmed", trimmed="5 lb")
    for _ in range(3):
        device.post(f"{path}/jar", sort="pint")
        device.get(path)
    kept, fresh = device.commands.look().open[0].now, AtPage(device.ledger).look().open[0].now
    assert kept is not None
    assert fresh is not None
    assert (kept.jars.draws == fresh.jars.draws).all()
    assert (kept.brine_ml.draws == fresh.brine_ml.draws).all()


def test_salt_that_is_not_the_card_s_share_is_said_on_the_page(device: Any) -> None:
    here = device.begin(produce="cabbage", cut="shredded", recipe="sauerkraut", jar="quart")
    device.post(f"{here}/ask/trimmed", trimmed="20 lb")
    assert "Salt: 7¼ to 8 oz" in device.get(here).text
    # 60 g of 20 lb are 0.66 %; 7 1/2 oz 2.3 %, within 2.25 to 2.5 (Univ. of Minnesota).
    for salt, warned in (("60 g", True), ("7 1/2 oz", False)):
        answer = device.post(f"{here}/ask/salt", salt=salt)
        assert ("Too little salt" in device.get(answer.headers["Location"]).text) == warned


def test_the_page_says_what_becomes_of_jars(device: Any) -> None:
    # AIB 539, Guide 1, p. 1-26, and Ask Extension 684465.
    unsealed, part = "did not seal is processed again within 24 hours", "A part-full jar goes in"
    here = device.begin(produce="okra", cut="whole", pack="raw", jar="pint")
    answer = device.post(f"{here}/close", jars__pint="9", part="1/2", sealed="7")
    told = device.get(answer.headers["Location"]).text
    assert unsealed in told
    assert part in told
    here = device.begin(produce="okra", cut="whole", pack="raw", jar="pint")
    device.post(f"{here}/close", jars__pint="5")
    batch = re.search(r'name="batch" value="([^"]+)"', device.get("/").text)
    assert batch is not None
    for count, said in (("2", True), ("5", False)):
        answer = device.post("/sealed", batch=batch[1], sealed=count)
        assert (unsealed in device.get(answer.headers["Location"]).text) == said


def test_every_screen_of_a_batch_has_the_rule_on_a_steam_canner(
    device: Any, run: Callable[..., Any]
) -> None:
    """AIB 539, Guide 6, p. 6-15: beets, 45 min from 6001 to 8000 ft; 45 are the most in steam.

    The limit: National Center for Home Food Preservation, Using Atmospheric Steam Canners.
    """
    path = device.begin(recipe="pickled-beets", produce="beet", cut="slices", pack="hot")
    seen = ("/", path, f"{path}/ask/trimmed", f"{path}/close")
    rule = "45 min (pint, 6001-8000 ft); 45 min is the most, altitude included. Vent it"
    assert not any("steam canner" in text_of(device.get(one)) for one in seen)
    run("kitchen", "--canner-kind", "steam", "--altitude", "7000 ft")
    for one in (*seen, "/forecast?recipe=pickled-beets&as_bought=12+lb", f"{path}/card"):
        assert rule in text_of(device.get(one)), one


def test_brine_not_noted_is_asked_for_where_it_can_be_given(device: Any) -> None:
    path = device.begin(recipe="none")
    device.post(f"{path}/ask/trimmed", trimmed="9 lb")
    device.post(f"{path}/jar", sort="pint")
    page = text_of(device.get(path))
    assert "How much brine was made is not known (say it under 'All brine made')" in page
    assert device.post(f"{path}/ask/brine_made", brine_made="12 cups").status_code == 303
    assert "is not known" not in text_of(device.get(path))


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ({"sealed": "40"}, "40 sealed of 8 pint filled"),
        ({"brine_left": "30 cups"}, "more brine left"),
    ],
)
def test_what_cannot_be_is_asked_back_before_a_batch_is_closed(
    device: Any, more: dict[str, str], why: str
) -> None:
    path = device.begin(recipe="none")
    device.post(f"{path}/ask/trimmed", trimmed="6 lb")
    device.post(f"{path}/ask/more_brine", more_brine="12 cups")
    refused = device.post(f"{path}/close", jars__pint="8", **more)
    assert refused.status_code == 422
    assert why in text_of(refused)
    assert "It is right; keep it" in text_of(refused)
    assert device.post(f"{path}/close", jars__pint="8", yes="on", **more).status_code == 303
