"""Takes in a real browser: recorded from a microphone that plays a file, judged, looked at."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from browser_rig import CONTRAST, FLAGS, SIZES, SMALL, Watch, at_desktop, at_phone, chromium, served

from linewright.services.bring import bring_in
from linewright.services.practising import give_plan
from linewright.services.recording import recorded
from linewright.services.shelf import keep
from linewright.services.takes import (
    Setting,
    delete_take,
    finish_take,
    keep_take,
    unfinished,
)
from linewright.services.taking import CALIBRATION_CLICKS
from linewright.services.tolerances import change_rules
from samples import PORCH

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(chromium() is None, reason="no chromium on this computer"),
]

BPM = 180


@pytest.fixture(scope="module")
def takes_server(tmp_path_factory):
    with served(tmp_path_factory.mktemp("takes") / "library.db") as running:
        library = running[0]
        porch = keep(library, bring_in(PORCH.encode()))
        plan = give_plan(library, porch.id, student="Ada Lane", level="beginner")
        change_rules(library, plan.id, 1, {"bpm": BPM, "bars": 2, "takes": 2}, by="the teacher")
        yield library, running[1], library.plans.get(plan.id)


def played(plan, loops=1):
    """An example line of the first step, rendered by our own voice at the step's tempo."""
    lick = plan.sheet.steps[0].examples[0].lick
    return recorded(lick, "wav", tempo=Fraction(BPM), loops=loops)


def with_microphone(playing, path):
    """A browser whose microphone plays a file over and over."""
    return playing.chromium.launch(
        executable_path=chromium(),
        args=[
            *FLAGS, "--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream",
            f"--use-file-for-fake-audio-capture={path}", "--autoplay-policy=no-user-gesture-required",
        ],
    )  # fmt: skip


@pytest.fixture(scope="module")
def player(playing, takes_server, tmp_path_factory):
    """A browser whose microphone hears a player."""
    path = tmp_path_factory.mktemp("played") / "played.wav"
    path.write_bytes(played(takes_server[2], loops=4))
    launched = with_microphone(playing, path)
    yield launched
    launched.close()


@pytest.fixture(params=SIZES)
def page(request, player, takes_server):
    width, height = SIZES[request.param]
    context = player.new_context(
        base_url=takes_server[1], viewport={"width": width, "height": height}
    )
    opened = context.new_page()
    opened.set_default_timeout(30_000)
    watch = Watch(opened)
    yield opened
    wide = opened.evaluate("document.documentElement.scrollWidth")
    context.close()
    assert watch.odd == []
    assert wide <= width


@pytest.fixture
def take(takes_server):
    """A kept and judged take."""
    library, _, plan = takes_server
    return keep_take(library, plan.id, 1, played(plan), Setting(float(BPM), 0.0, 0.0)).take


def begin(page, plan):
    page.goto(f"/plans/{plan.id}")
    page.goto(page.locator("#step-1 a.button[href$='/take']").get_attribute("href"))
    page.locator("[data-record]:enabled").focus()
    page.keyboard.press("Enter")  # by key alone
    page.get_by_role("button", name="Stop").wait_for()
    page.get_by_text("Bar 3;").wait_for()


#: Writes down the moments of the audio clock for which sound is laid out.
LAID = """const { start } = AudioBufferSourceNode.prototype;
globalThis.laid = [];
AudioBufferSourceNode.prototype.start = function (when, ...more) {
  globalThis.laid.push(when);
  return start.call(this, when, ...more);
};"""
CLOCK = "() => [document.querySelector('[data-recorder]').page.recorder.first, globalThis.laid]"


@at_phone
def test_a_take_is_recorded_and_judged(page, takes_server):
    library, _, plan = takes_server
    page.add_init_script(LAID)
    begin(page, plan)
    first, laid = page.evaluate(CLOCK)
    assert page.get_by_role("meter", name="Level").evaluate("m => m.value") > 0.1
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Rule by rule").wait_for()
    rules = page.get_by_role("table").first
    # The line is one of the step's own examples: what can be told of it is right, and where its
    # bars lie against the click cannot be told before the delay of the device is measured.
    assert "done" in rules.get_by_role("row", name="The right notes").inner_text()
    assert "left open" in rules.get_by_role("row", name="On the click").inner_text()
    page.get_by_text("Measure the delay of this device").wait_for()
    entry = library.takes.find(plan_id=plan.id, step=1)[-1]
    assert entry.state == "judged"
    assert entry.setting.bpm == BPM
    # By the audio clock: the recording runs before the count-in sounds, four beats later comes
    # beat 1, and bar 1 is laid out for that moment.
    beat_1 = first + entry.setting.start_s
    assert first <= min(laid)
    assert beat_1 == pytest.approx(min(laid) + 4 * 60 / BPM, abs=0.002)
    assert any(when == pytest.approx(beat_1, abs=0.002) for when in laid)
    assert entry.setting.delay_s is None
    assert entry.seconds > 3 * 4 * 60 / BPM  # the count-in and two bars
    # It can be heard again: as long as it was, and from anywhere.
    audio = page.locator("[data-audio]")
    page.wait_for_function("() => document.querySelector('[data-audio]').readyState > 0")
    assert audio.evaluate("a => a.duration") == pytest.approx(entry.seconds, abs=0.1)


def test_a_tab_that_dies_loses_nothing_that_was_sent(player, takes_server):
    library, url, plan = takes_server
    context = player.new_context(base_url=url)
    page = context.new_page()
    begin(page, plan)
    context.close()
    (broken,) = unfinished(library, plan.id)
    assert broken.bytes > 2 * 44_100 * 2  # two seconds and more
    context = player.new_context(base_url=url)
    page = context.new_page()
    page.goto(f"/plans/{plan.id}/steps/1/take")
    left = page.get_by_role("region", name="Not judged yet")
    left.get_by_role("button", name="Judge the take").click()
    page.get_by_role("heading", name="Rule by rule").wait_for()
    page.get_by_role("button", name="Throw this take away").click()
    page.get_by_role("button", name="Bring it back").wait_for()
    context.close()
    assert unfinished(library, plan.id) == ()


WITHOUT_SAMPLES = "delete globalThis.AudioWorkletNode;"


@at_phone
def test_a_browser_that_gives_no_samples_codes_the_take_itself(page, takes_server):
    library, _, plan = takes_server
    page.add_init_script(WITHOUT_SAMPLES)
    begin(page, plan)
    assert page.get_by_text("does not tell exactly when it began").is_visible()
    assert page.get_by_role("meter", name="Level").evaluate("m => m.value") > 0.1
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Rule by rule").wait_for()
    rules = page.get_by_role("table").first
    assert "done" in rules.get_by_role("row", name="The right notes").inner_text()
    assert "left open" in rules.get_by_role("row", name="On the click").inner_text()
    entry = library.takes.find(plan_id=plan.id, step=1)[-1]
    assert (entry.state, entry.format) == ("judged", "webm")
    assert entry.setting.start_s > 4 * 60 / BPM  # after the count-in, about
    assert entry.setting.delay_s is None
    assert entry.seconds > 3 * 4 * 60 / BPM
    page.wait_for_function("() => document.querySelector('[data-audio]').readyState > 0")


WATCHED = """
const Own = MediaRecorder;
globalThis.MediaRecorder = class extends Own { constructor(...of) { super(...of); globalThis.coded = this; } };
"""


@at_desktop
def test_a_coder_that_fails_ends_the_take_and_what_was_sent_is_judged(page, takes_server):
    library, _, plan = takes_server
    page.add_init_script(WITHOUT_SAMPLES + WATCHED)
    begin(page, plan)
    page.evaluate("coded.dispatchEvent(new Event('error'))")
    page.get_by_role("heading", name="Rule by rule").wait_for()
    entry = library.takes.find(plan_id=plan.id, step=1)[-1]
    assert (entry.state, entry.format) == ("judged", "webm")
    delete_take(library, entry.id)


def test_a_coded_take_of_a_tab_that_dies_loses_nothing_that_was_sent(player, takes_server):
    library, url, plan = takes_server
    context = player.new_context(base_url=url)
    page = context.new_page()
    page.add_init_script(WITHOUT_SAMPLES)
    begin(page, plan)
    context.close()
    (broken,) = unfinished(library, plan.id)
    assert broken.bytes > 4_000  # a second and more, coded
    entry = finish_take(library, broken.id).take.entry
    assert (entry.state, entry.format) == ("judged", "webm")
    assert entry.seconds > 2
    delete_take(library, entry.id)


def test_the_delay_of_a_device_is_measured_kept_and_forgotten(
    playing, takes_server, tmp_path_factory
):
    """The file's clicks come late by what is put in, less the time the page takes to begin."""
    from linewright.sound.voice_click import click_sound
    from linewright.sound.write_audio import write_audio

    rate = 44_100
    heard = np.zeros((10 * rate, 1), np.float32)
    click = click_sound(rate, True)
    for time in CALIBRATION_CLICKS:
        at = round((time + 1.0) * rate)
        heard[at : at + len(click), 0] += 0.6 * click
    path = tmp_path_factory.mktemp("clicks") / "clicks.wav"
    path.write_bytes(write_audio(heard, rate, "wav"))
    browser = with_microphone(playing, path)
    page = browser.new_page(base_url=takes_server[1])
    page.goto(f"/plans/{takes_server[2].id}/steps/1/take")
    page.get_by_text("The delay of this device: not measured").click()
    page.get_by_role("button", name="Measure the delay").click()
    page.get_by_text("ms late here").wait_for(timeout=20_000)
    known = page.evaluate("JSON.parse(localStorage.getItem('linewright-delay')).headphones.delay_s")
    page.reload()
    page.get_by_text(f"The delay of this device: {round(1000 * known)} ms").click()
    page.get_by_role("button", name="Forget it").click()
    page.get_by_text("The delay of this device: not measured").wait_for()
    browser.close()


def test_without_a_microphone_a_recording_is_brought(playing, takes_server, tmp_path):
    _, url, plan = takes_server
    browser = playing.chromium.launch(executable_path=chromium(), args=FLAGS)
    page = browser.new_page(base_url=url)
    page.goto(f"/plans/{plan.id}/steps/1/take")
    page.get_by_role("button", name="Record", exact=True).click()
    page.get_by_role("alert").get_by_text("You can bring in a recording below").wait_for()
    assert page.get_by_role("button", name="Record", exact=True).is_enabled()
    path = tmp_path / "mine.wav"
    path.write_bytes(played(plan))
    page.get_by_label("Recording", exact=True).set_input_files(path)
    page.get_by_label("First beat of bar 1").fill("0")
    page.get_by_role("button", name="Judge it").last.click()
    page.get_by_role("heading", level=1, name=f"Done at {BPM}").wait_for()
    browser.close()


def test_a_verdict_is_read_ruled_on_and_kept(page, take, takes_server):
    _, _, plan = takes_server
    page.goto(f"/plans/{plan.id}/takes/{take.id}")
    # A note in the strip, the score and the tables is the same note.
    page.get_by_text("Note by note").click()
    page.get_by_role("row", name="bar 1, beat 2").first.hover()
    assert page.locator("[data-score] .lit:visible").count() > 0
    assert page.locator("[data-strip] .lit:visible").count() > 0
    # Slower at the same pitch.
    page.get_by_label("Speed").select_option("50")
    audio = page.locator("[data-audio]")
    assert audio.evaluate("a => [a.playbackRate, a.preservesPitch]") == [0.5, True]
    # The player plays the recording in place of the written notes.
    page.wait_for_function("() => document.querySelector('[data-player]').player?.sound")
    page.get_by_label("The player below plays the recording").check()
    same = """async () => {
      const { sound, map } = document.querySelector("[data-player]").player;
      const bar = await sound.load(`${map.sound}/lead/1.wav?percent=50`);
      const loud = bar.getChannelData(0).reduce((most, v) => Math.max(most, Math.abs(v)), 0);
      return [bar.duration, loud > 0.02];
    }"""
    length, loud = page.evaluate(same)
    assert length == pytest.approx(2 * 4 * 60 / BPM, abs=0.03)
    assert loud
    # A teacher's word needs a name.
    page.get_by_label("This take").select_option("not yet")
    page.get_by_role("button", name="Say so").click()
    page.get_by_role("alert").get_by_text("which teacher").wait_for()
    page.get_by_label("Teacher", exact=True).fill("the teacher")
    page.get_by_label("Comment").fill("relax the right hand")
    page.get_by_role("button", name="Say so").click()
    page.get_by_text("the teacher says: not yet. relax the right hand").wait_for()
    page.get_by_label("Title").fill("What Ada played")
    page.get_by_role("button", name="Keep it").click()
    page.get_by_role("heading", level=1, name="What Ada played").wait_for()


@at_desktop
def test_sound_made_longer_keeps_its_pitch(page, takes_server):
    page.goto(f"/plans/{takes_server[2].id}/steps/1/take")
    told = """async () => {
      const { stretch } = await import("/static/take-heard.js");
      const sine = Float32Array.from({ length: 22050 }, (_, i) => Math.sin((2 * Math.PI * 440 * i) / 44100));
      const long = stretch(sine, 2);
      let rises = 0;
      for (let i = 8820; i < 35280; i++) rises += long[i - 1] < 0 && long[i] >= 0;
      return [long.length, rises / (26460 / 44100), long.subarray(8820, 35280).reduce((most, v) => Math.max(most, v), 0)];
    }"""
    length, pitch, peak = page.evaluate(told)
    assert length == 44_100
    assert pitch == pytest.approx(440, rel=0.01)
    assert peak == pytest.approx(1, abs=0.05)


def test_targets_are_large_enough_and_text_has_contrast(page, take, takes_server):
    """WCAG 2.2 AA: 2.5.8 target size (24 px), 1.4.3 contrast (4.5 to 1)."""
    plan = takes_server[2]
    for path in (f"/plans/{plan.id}/steps/1/take", f"/plans/{plan.id}/takes/{take.id}"):
        page.goto(path)
        for details in page.locator("main details").all():
            details.evaluate("d => { d.open = true; }")
        assert page.evaluate(SMALL) == [], path
        assert page.evaluate(CONTRAST) == [], path
