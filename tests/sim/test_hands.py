"""Keys and clicks become calls; a touch is enough for what restricts, never for what widens danger."""

from __future__ import annotations

import re

import pytest
from msgspec.structs import replace

from signals import say
from signals.actions import ACTIONS, BY_KEY, MORE, OTHER_KEYS
from signals.core.table.interlocks import INTERLOCKS
from signals.mqtt import contract as c
from signals.venue.model import Venue
from signals.words import PIT, Because, HoldKind, Phase, Word
from sim.view.hint import next_step
from tests.sim.story import BOOT, Story


@pytest.fixture
def racing(story: Story) -> Story:
    story.group_in()
    story.race()
    story.tell()
    return story


def test_no_two_calls_share_a_key_nor_take_one_of_the_others() -> None:
    assert len(BY_KEY) == len(ACTIONS)
    others = {
        "1",
        "2",
        "9",
        "0",
        "P",
        "M",
        "R",
        "?",
        "F1",
        "F9",
        "Enter",
        "Esc",
        "Left",
        "Right",
        "Up",
        "Down",
    }
    assert not others & set(BY_KEY)
    assert OTHER_KEYS


@pytest.mark.parametrize("key", ["Space", "R"])
@pytest.mark.parametrize("phase", list(Phase))
def test_red_is_a_single_touch_in_every_phase(story: Story, key: str, phase: Phase) -> None:
    story.group_in()
    story.phase = phase
    story.tell()
    story.press(key)
    assert (story.calls[-1].call, story.calls[-1].kind) == (Word.STOP, HoldKind.INCIDENT)


def test_red_goes_through_an_open_question_and_the_help_page(racing: Story) -> None:
    racing.hold("caution", "s3")
    racing.tell()
    racing.press("L")
    assert racing.hands.question is not None
    racing.press("Space")
    assert racing.words() == [Word.STOP]
    racing.press("F1", "R")
    assert racing.words() == [Word.STOP, Word.STOP]


def test_red_is_sent_though_no_state_was_ever_heard(venue: Venue) -> None:
    story = Story(venue)
    story.press("Space")
    assert story.words() == [Word.STOP]


def test_yellow_goes_to_the_chosen_sector(racing: Story) -> None:
    racing.press("3", "Y", "P", "Y", "1", "Left", "Y", "Right", "Right", "U")
    wheres = [call.where for call in racing.calls]
    assert wheres == ["s3", PIT, PIT, "s2"]
    assert [call.kind for call in racing.calls] == [HoldKind.INCIDENT] * 3 + [HoldKind.PERSON_ON_TRACK]


def test_tenth_and_further_sectors_can_be_chosen(quarry: Venue) -> None:
    story = Story(quarry)
    story.press("0")
    assert story.hands.sector == "s10"
    story.press("Right", "Right")
    assert story.hands.sector == "s12"
    story.press("Right")
    assert story.hands.sector == PIT


@pytest.mark.parametrize(
    "action",
    [action for action in ACTIONS if action.asks and action.needs != "hold" and action.id != "wet"],
    ids=lambda action: action.id,
)
def test_what_widens_danger_is_asked_first(racing: Story, action: object) -> None:
    racing.hands.kart = 2
    racing.hold("recovery")
    racing.tell()
    racing.press(action.key)  # type: ignore[attr-defined]
    assert racing.calls == []
    assert racing.hands.question is not None
    racing.press("Enter")
    assert racing.words() == [action.word]  # type: ignore[attr-defined]


@pytest.mark.parametrize("key", ["Y", "U", "F2", "F3", "F", "N", "Z", "T"])
def test_what_restricts_is_a_single_touch(racing: Story, key: str) -> None:
    racing.hands.kart = 2
    racing.press(key)
    assert racing.words() == [BY_KEY[key].word]


def test_wet_is_a_touch_and_dry_is_asked(racing: Story) -> None:
    racing.press("W")
    racing.tell(surface="wet")
    racing.press("W")
    assert racing.words() == [Word.WET]
    racing.press("Enter")
    assert racing.words() == [Word.WET, Word.DRY]


def test_permissive_calls_name_the_state_their_sender_saw(racing: Story) -> None:
    racing.press("S", "Enter")
    assert racing.desk.state is not None
    assert (racing.calls[-1].boot, racing.calls[-1].seq) == (BOOT, racing.desk.state.seq)


def test_one_of_two_holds_is_chosen_then_asked_about(racing: Story) -> None:
    racing.hold("caution", "s3", reason="spin")
    racing.hold("stop", None, post="p1")
    racing.tell()
    racing.press("L")
    assert racing.hands.question is not None
    assert [option.label for option in racing.hands.question.options] == [
        "Yellow 3 Hairpin, by Race desk at 12:01 (spin)",
        "Red, by Post 1 at 12:01",
    ]
    racing.press("2", "Enter")
    call = racing.calls[-1]
    assert (call.call, call.hold, call.checked) == (Word.LIFT, "stop:p1", True)
    assert call.reason


def test_a_question_falls_when_its_picture_changes(racing: Story) -> None:
    racing.hold("caution", "s3")
    racing.tell()
    racing.press("L")
    racing.hold("caution", "s4", post="p2")
    racing.tell()
    racing.hands.tick(racing.now_s)
    assert racing.hands.question is None
    racing.press("Enter")
    assert racing.calls == []
    assert racing.desk.outcome is not None
    assert racing.desk.outcome.title == "Look again: the picture has changed."


def test_taking_over_offers_only_others_holds(racing: Story) -> None:
    racing.hold("caution", "s3")
    racing.hold("caution", "s3", post="p1")
    racing.tell()
    racing.press("H", "Enter")
    assert (racing.calls[-1].call, racing.calls[-1].hold) == (Word.HAND_OVER, "caution:s3:p1")


def test_group_in_prepares_demo_drivers_and_stages_them_once_accepted(story: Story) -> None:
    story.tell()
    story.press("G")
    assert story.words() == [Word.PREPARE]
    entries = story.calls[0].entries
    assert isinstance(entries, list)
    assert len({entry.class_ for entry in entries}) == 1
    story.answer()
    assert story.words() == [Word.PREPARE, Word.STAGE]


def test_a_refused_preparation_stages_nobody(story: Story) -> None:
    story.tell()
    story.press("G")
    story.answer(("barred-driver", "Ada Fenwick is out for today."))
    assert story.words() == [Word.PREPARE]


def test_while_racing_the_next_group_is_only_prepared(racing: Story) -> None:
    racing.press("G")
    racing.answer()
    assert racing.words() == [Word.PREPARE]


def test_a_group_that_is_in_is_replaced_only_after_a_question(story: Story) -> None:
    story.group_in()
    story.tell()
    story.confirm(*story.confirmed)
    story.tell()
    story.press("G")
    assert story.calls == []
    story.press("Enter")
    assert story.words() == [Word.PREPARE]


def test_checklist_keys_confirm_while_items_are_open(story: Story) -> None:
    story.group_in()
    story.tell()
    story.press(*(item.key for item in story.venue.checklist))
    assert [call.item for call in story.calls] == [item.id for item in story.venue.checklist]


def test_a_second_touch_of_a_confirmed_item_is_no_other_call(story: Story) -> None:
    story.group_in()
    story.confirm("briefing")
    story.hands.kart = 1
    story.tell()
    story.press("B")
    assert story.calls == []


def test_the_quarrys_g_confirms_before_it_brings_a_group_in(quarry: Venue) -> None:
    story = Story(quarry)
    story.group_in()
    story.tell()
    story.press("G")
    assert story.words() == [Word.CONFIRM]


def test_checklist_keys_never_take_a_restrictive_one(venue: Venue) -> None:
    items = tuple(replace(item, key=key) for item, key in zip(venue.checklist, "YRDU", strict=True))
    story = Story(replace(venue, checklist=items))
    story.group_in()
    story.tell()
    story.press("Y", "R", "U")
    assert story.words() == [Word.CAUTION, Word.STOP, Word.CAUTION]


def test_letting_out_takes_the_next_that_waits_or_the_chosen_one(racing: Story) -> None:
    for number in (2, 4):
        racing.put(number, PIT, 0, Because.NOT_LET_OUT)
    racing.tell()
    racing.press("O", "Enter")
    racing.hands.kart = 4
    racing.press("O", "Enter")
    assert [call.kart for call in racing.calls] == [2, 4]


def test_a_kart_can_be_accounted_for_in_the_pit_or_set_aside(racing: Story) -> None:
    racing.hands.kart = 3
    racing.press("V", "Enter", "V", "A")
    assert [(call.call, call.kart, call.where) for call in racing.calls] == [
        (Word.ACCOUNT, 3, PIT),
        (Word.ACCOUNT, 3, "aside"),
    ]


def test_a_call_for_a_kart_needs_one_chosen(racing: Story) -> None:
    racing.press("B")
    assert racing.calls == []
    racing.press("Down", "B", "Down", "B", "Up", "Up", "B")
    assert [call.kart for call in racing.calls] == [1, 2, 12]


def test_clicks_do_what_keys_do(racing: Story) -> None:
    hands, now_s = racing.hands, racing.now_s
    hands.click("sector:s5", now_s)
    hands.click("do:yellow", now_s)
    hands.click("kart:4", now_s)
    hands.click("do:slow", now_s)
    racing.hold("caution", "s5")
    racing.tell()
    hands.click("next", now_s)
    hands.click("answer:Enter", now_s)
    assert [(call.call, call.where, call.kart) for call in racing.calls[:2]] == [
        (Word.CAUTION, "s5", c.UNSET),
        (Word.SLOW_ONE, c.UNSET, 4),
    ]
    assert racing.calls[2].hold == "caution:s5:desk"
    hands.click("help", now_s)
    assert hands.helping
    hands.click("", now_s)


def test_the_answer_no_leaves_it(racing: Story) -> None:
    racing.press("S", "Esc", "Enter")
    racing.hands.click("do:start", racing.now_s)
    racing.hands.click("answer:Esc", racing.now_s)
    racing.press("Enter")
    assert racing.calls == []


def test_closing_with_karts_out_asks_and_calls_red_first(racing: Story) -> None:
    racing.hands.leave(racing.now_s)
    assert not racing.hands.leaving
    assert racing.hands.question is not None
    assert racing.hands.question.text.startswith("6 karts out")
    racing.press("Enter")
    assert racing.words() == [Word.STOP]
    assert racing.hands.leaving


def test_closing_with_nobody_out_just_closes(story: Story) -> None:
    story.tell()
    story.hands.leave(story.now_s)
    assert story.hands.leaving
    assert story.calls == []


def test_a_call_without_a_link_says_so(racing: Story) -> None:
    racing.connected = False
    racing.press("Space")
    assert racing.desk.outcome is not None
    assert racing.desk.outcome.accepted is False
    assert racing.desk.outcome.lines == ("There is no link: use flag and radio.",)


def test_quiet_buttons_are_those_that_make_no_sense_now(story: Story) -> None:
    story.tell()
    usable = {action.id for action in ACTIONS if story.hands.in_use(action)}
    assert {"red", "yellow", "group-in"} <= usable
    assert not {"start", "ready", "let-out", "lift", "clear", "chequered", "blue"} & usable
    story.group_in()
    story.race()
    story.hands.kart = 2
    story.tell()
    usable = {action.id for action in ACTIONS if story.hands.in_use(action)}
    assert {"chequered", "blue", "black", "slow"} <= usable
    assert not {"button-reset", "requalify", "take-back", "ready"} & usable


def test_the_next_line_leads_through_a_session(story: Story) -> None:
    def line() -> str:
        story.tell()
        return next_step(story.desk, story.now_s).text

    assert line() == "Next: bring a group in (G)"
    story.group_in()
    assert line() == "Next: confirm: briefing held, signals explained (B)"
    story.confirm("briefing", "helmets")
    assert line() == "Next: confirm: seats set, belts closed (K)"
    story.confirm(*story.confirmed)
    assert line() == "Next: everyone set? Ready (A)"
    story.phase = Phase.ARMED
    assert line() == "Next: start the session (S)"
    story.phase = Phase.RACING
    assert line() == "Next: let out kart 1 (O)"
    story.race()
    assert line().startswith("All are out, 6:25 left.")
    story.hold("caution", "s3")
    assert line() == "Next: check 3 Hairpin, lift its yellow (L)"
    story.hold("stop")
    assert line() == "Next: see all karts stand, then lift the red (L)"
    story.holds = []
    story.hold("recovery")
    assert line() == "Next: check the whole track, then clear (C)"
    story.holds = []
    story.phase = Phase.FINISHING
    assert line() == "6 karts are still out: wait until all are in the pit"
    story.put(1, "unknown", 5, Because.CAUTION)
    assert line() == "Next: find kart 1; seen in the pit (V)"
    for number in story.desk.picture.members():
        story.put(number, PIT, 0, Because.NOT_LET_OUT, let_out=number == 6)
    assert line() == "Wait: kart 6 is still rolling in the pit lane"
    story.put(6, PIT, 0, Because.NOT_LET_OUT, let_out=False)
    assert line() == "All are in. Next: close (X), or the next group in (G)"
    story.say(
        "monitor/trip",
        c.Trip(tripped=True, what="less restrictive", where="h2", due="red", shown="green", at=1),
    )
    assert line() == "Next: look at what it tripped on (h2); reset the monitor (F9)"
    story.later(5)
    assert next_step(story.desk, story.now_s).text == "Flag and radio: nothing here reaches the track"


def test_screens_never_speak_of_leases_beats_or_aspects() -> None:
    words = " ".join(
        f"{action.label} {action.line} {action.asks} {action.yes} {action.spoken}" for action in ACTIONS
    )
    words += " ".join(what for _, what in OTHER_KEYS)
    words += " ".join(case.sentence for interlock in INTERLOCKS for case in interlock.cases)
    inner = {"lease", "beat", "aspect", "epoch", "recovery", "stage", "arm", "withdraw", "disqualified"}
    assert not inner & set(re.findall(r"[a-z]+", re.sub(r"\{\w+\}", "", words.lower())))


@pytest.mark.parametrize(("word", "label"), [(action.word, action.label) for action in (*ACTIONS, *MORE)])
def test_a_refusal_names_a_call_as_its_button_does(word: Word, label: str) -> None:
    several = {"On foot", "Fire", "Medical", "Seen in pit", "Wet / dry"}
    assert say.call_name(word) == label or label in several


def test_a_reset_of_the_monitor_asks_first_and_tells_what_came_of_it(racing: Story) -> None:
    racing.press("F9")
    assert racing.desk.outcome is not None
    assert racing.desk.outcome.title == "The monitor has not tripped."
    trip = {"where": "h2", "due": "red", "shown": "green", "at": 1}
    racing.say("monitor/trip", c.Trip(tripped=True, what="shows less", **trip))
    racing.press("F9")
    assert racing.hands.question is not None
    assert "h2" in racing.hands.question.text
    assert racing.topics.name("monitor", "reset", "desk") not in racing.topics_sent
    racing.press("Enter")
    assert racing.topics_sent[-1] == racing.topics.name("monitor", "reset", "desk")
    racing.say("monitor/trip", c.Trip(tripped=True, what="reset refused: shows less", **trip))
    assert (racing.desk.outcome.title, racing.desk.outcome.accepted) == (
        "The monitor's reset refused.",
        False,
    )
    racing.say("monitor/trip", c.Trip(tripped=False, what="reset by desk: looked at", **trip))
    assert racing.desk.outcome.title == "The monitor is reset."


def test_a_digit_within_a_question_chooses_no_sector(racing: Story) -> None:
    racing.press("3", "S")
    assert racing.hands.question is not None
    racing.press("1")
    assert racing.hands.sector == "s3"
    assert racing.hands.question is not None


def test_another_kart_is_chosen_for_a_driver_a_page_at_a_time(racing: Story) -> None:
    racing.hands.kart = 3
    racing.press("E", "1")
    assert racing.hands.question is not None
    labels = [option.label for option in racing.hands.question.options]
    assert labels == ["Kart 7", "Kart 8", "Kart 9", "Kart 10", "More: 2 others"]
    racing.press("0", "2")
    call = racing.calls[-1]
    assert (call.call, call.kart, call.to) == (Word.SWAP, 3, 12)
    racing.answer()
    assert racing.desk.outcome is not None
    assert racing.desk.outcome.title == "Swap 3 for 12: done."


def test_a_swap_needs_a_kart_of_the_group(racing: Story) -> None:
    racing.press("E", "1")
    assert racing.calls == []
    assert racing.desk.outcome is not None
    assert racing.desk.outcome.title.startswith("Swap: choose a kart of this group first")


def test_a_late_driver_joins_with_a_name_nobody_has(racing: Story) -> None:
    racing.press("E", "2", "1")
    call = racing.calls[-1]
    assert isinstance(call.entries, list)
    assert (call.call, call.entries[0].number) == (Word.JOIN, 7)
    assert call.entries[0].driver not in {
        racing.desk.picture.driver(number) for number in racing.desk.picture.members()
    }


def test_a_head_is_replaced_the_ill_one_first_and_a_marshal_named(racing: Story) -> None:
    racing.tell(health={"h4": "lost"})
    racing.press("E", "3")
    assert racing.hands.question is not None
    assert racing.hands.question.options[0].label == "h4, before 4 Slipway (not well)"
    racing.press("1", "2")
    call = racing.calls[-1]
    assert (call.call, call.head, call.by) == (Word.OUT_OF_SERVICE, "h4", "Tove Merriweather")
    assert call.reason


def test_more_holds_than_fit_are_on_a_next_page(racing: Story) -> None:
    for sector in ("s1", "s2", "s3", "s4", "s5", "s6"):
        racing.hold("caution", sector)
    racing.tell()
    racing.press("L")
    assert racing.hands.question is not None
    assert racing.hands.question.text == "Lift which of 6?"
    assert racing.hands.question.options[-1].label == "More: 2 others"
    racing.press("0", "1", "Enter")
    assert racing.calls[-1].hold == "caution:s5:desk"


@pytest.fixture
def rolling(racing: Story) -> Story:
    """Everybody is in, and kart 6 still rolls to its box."""
    racing.phase = Phase.FINISHING
    for number in racing.desk.picture.members():
        racing.put(number, PIT, 8 if number == 6 else 0, Because.PIT_LANE, let_out=number == 6)
    racing.tell()
    return racing


def test_close_waits_for_a_kart_that_still_rolls(rolling: Story) -> None:
    rolling.press("X")
    rolling.hands.tick(rolling.now_s)
    assert rolling.calls == []
    assert rolling.desk.outcome is not None
    assert rolling.desk.outcome.title == "Close waits: kart 6 still rolls in the pit lane."
    rolling.put(6, PIT, 0, Because.NOT_LET_OUT, let_out=False)
    rolling.tell()
    rolling.hands.tick(rolling.now_s)
    assert rolling.words() == [Word.CLOSE]


@pytest.mark.parametrize("what", ["Esc", "Space", "a hold"])
def test_a_close_that_waits_is_dropped(rolling: Story, what: str) -> None:
    rolling.press("X")
    if what == "a hold":
        rolling.hold("caution", "s3")
    else:
        rolling.press(what)
    rolling.put(6, PIT, 0, Because.NOT_LET_OUT, let_out=False)
    rolling.tell()
    rolling.hands.tick(rolling.now_s)
    assert Word.CLOSE not in rolling.words()


def test_nobody_waits_to_be_let_out_once_the_session_ends(racing: Story) -> None:
    racing.put(2, PIT, 0, Because.NOT_LET_OUT)
    racing.tell()
    assert racing.desk.picture.waiting() == (2,)
    racing.phase = Phase.FINISHING
    racing.tell()
    assert racing.desk.picture.waiting() == ()
    assert racing.desk.why(2, racing.now_s) == "home"


@pytest.mark.parametrize(
    ("key", "name"), [("F5", "follow"), ("F6", "names"), ("F7", "signs"), ("M", "steady")]
)
def test_how_it_is_looked_at_calls_nothing(racing: Story, key: str, name: str) -> None:
    before = getattr(racing.hands.lens, name)
    racing.press(key)
    assert getattr(racing.hands.lens, name) is not before
    racing.press(key)
    assert getattr(racing.hands.lens, name) is before
    assert racing.calls == []


def test_a_zoom_keeps_what_is_under_the_pointer_and_ends_at_the_whole(racing: Story) -> None:
    lens = racing.hands.lens
    lens.nearer(2, (0.25, 0.75))
    size = 600, 400
    x, y = lens.corner(size)
    assert ((x + 0.25 * 600) / (600 * lens.zoom), (y + 0.75 * 400) / (400 * lens.zoom)) == pytest.approx(
        (0.25, 0.75), abs=0.01
    )
    racing.press("Home")
    assert (lens.zoom, lens.corner(size)) == (1.0, (0, 0))


def test_the_pages_open_and_close(racing: Story) -> None:
    racing.press("F8")
    assert racing.hands.reading
    racing.press("F1")
    assert (racing.hands.helping, racing.hands.reading) == (True, False)
    racing.press("Esc")
    assert (racing.hands.helping, racing.hands.reading) == (False, False)
