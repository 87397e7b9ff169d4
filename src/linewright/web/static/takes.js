// The page where a take is recorded: settings, the delay of this device, the level, the bars.

import { pieceOf } from "./player-piece.js";
import { Sound, wav } from "./player-sound.js";
import { CodedRecorder } from "./takes-coded.js";
import { Recorder, Sender, asked, givesSamples, microphone, refusal, told, wavHead } from "./takes-record.js";

const KEEP = "linewright-take";
const DELAYS = "linewright-delay";
const LONGEST_S = 590;
const SOFT = 0.03;
const LOUD = 0.9;

function kept(key) {
  try {
    return JSON.parse(localStorage.getItem(key)) || {};
  } catch {
    return {};
  }
}

function keep(key, value) {
  try {
    localStorage.setItem(key, JSON.stringify(value));
  } catch {
    // for this page only
  }
}

const wait = (seconds) => new Promise((done) => setTimeout(done, 1000 * seconds));

export class TakePage {
  constructor(root) {
    this.root = root;
    this.part = (name) => root.querySelector(`[data-${name}]`);
    this.state = "ready";
    this.recall();
    this.showListening();
    this.showDelay();
    root.addEventListener("change", () => this.changed());
    this.part("record").addEventListener("click", () => this.toggle());
    this.part("measure").addEventListener("click", () => this.measure());
    this.part("forget").addEventListener("click", () => this.forget());
    this.go("ready");
    addEventListener("pagehide", () => this.sender?.send().catch(() => {}));
    addEventListener("beforeunload", (event) => this.state === "recording" && event.preventDefault());
  }

  // -- settings -------------------------------------------------------------------------
  get bpm() {
    return Number(this.root.querySelector("[name=bpm]:checked").value);
  }

  get listen() {
    return this.part("listen").value;
  }

  read() {
    const value = (name) => this.part(name).value;
    return {
      percent: 100, band: value("band"), click: value("click"), countIn: Number(value("count")), muted: true,
      levels: { lead: 0, band: Number(value("level-band")) / 100, click: Number(value("level-click")) / 100 },
      drop: { sound: 1, silent: 0 }, loop: { on: true, bars: null }, ladder: null,
    };
  }

  changed() {
    const listen = this.listen;
    if (listen !== this.listened) {
      // A band in the room would be taken for the player's notes.
      if (listen === "speakers") this.part("band").value = "";
      else if (this.listened === "speakers" && !this.part("band").value) this.part("band").value = "usual";
      this.showListening();
      this.showDelay();
    }
    const { band, click, countIn, levels } = this.read();
    keep(KEEP, { listen, band, click, countIn, levels });
    if (this.sound) {
      Object.assign(this.sound.settings.levels, levels);
      this.sound.level();
    }
  }

  recall() {
    const old = kept(KEEP);
    const set = (name, value) => {
      const control = this.part(name);
      if (value !== undefined && (!control.options || [...control.options].some((o) => o.value === String(value)))) control.value = value;
    };
    set("listen", old.listen);
    set("band", old.band);
    set("click", old.click);
    set("count", old.countIn);
    for (const stem of ["band", "click"]) set(`level-${stem}`, old.levels ? Math.round(100 * old.levels[stem]) : undefined);
  }

  showListening() {
    this.listened = this.listen;
    this.part("listen-words").textContent =
      this.listen === "headphones"
        ? "Only you are in the recording. Begin with the volume low."
        : "The click is heard in the recording and taken out again; keep it low. A band in the room would be taken for your notes, so it is off.";
    if (!givesSamples()) this.part("listen-words").textContent += " This browser does not tell exactly when it began to record, so early or late on average may stay open.";
  }

  // -- the delay of this device ---------------------------------------------------------
  get delay() {
    return kept(DELAYS)[this.listen] || null;
  }

  showDelay() {
    const known = this.delay;
    this.part("delay-said").textContent = known ? `${Math.round(1000 * known.delay_s)} ms` : "not measured";
    this.part("forget").hidden = !known;
  }

  forget() {
    if (this.state !== "ready") return;
    const all = kept(DELAYS);
    delete all[this.listen];
    keep(DELAYS, all);
    this.showDelay();
    this.part("measured").textContent = "Forgotten. Early or late on average stays open until it is measured again.";
    this.part("measure").focus();
  }

  async measure() {
    if (this.state !== "ready") return;
    if (!givesSamples()) {
      this.complain("The delay cannot be measured in this browser: it does not tell exactly when it began to record.");
      return;
    }
    const said = this.part("measured");
    this.complain("");
    this.go("measuring");
    said.textContent = "Clicks are playing. Be quiet for a moment.";
    let stream;
    try {
      await this.ready();
      const { click_times: times } = await asked("/api/calibration");
      const click = await this.oneClick();
      stream = await this.listening();
      const ctx = this.sound.ctx;
      const blocks = [];
      const recorder = new Recorder(ctx, stream, (block) => blocks.push(block.samples));
      await recorder.start();
      const from = ctx.currentTime + 0.2;
      for (const time of times) {
        const node = new AudioBufferSourceNode(ctx, { buffer: click });
        node.connect(this.sound.out);
        node.start(from + time);
      }
      await wait(times.at(-1) + 1.2);
      await recorder.stop();
      const label = stream.getAudioTracks()[0].label;
      const { delay_s } = await this.measured(blocks, ctx.sampleRate, from - recorder.first);
      keep(DELAYS, { ...kept(DELAYS), [this.listen]: { delay_s, label } });
      said.textContent = `Sound comes back ${Math.round(1000 * delay_s)} ms late here. This browser keeps that; measure again with another microphone or other headphones.`;
    } catch (error) {
      said.textContent = "";
      this.complain(error.words || `The delay could not be measured: ${error.message}`);
    } finally {
      for (const track of stream?.getTracks() || []) track.stop();
      this.showDelay();
      this.go("ready");
    }
  }

  measured(blocks, rate, start) {
    const bytes = 2 * blocks.reduce((sum, block) => sum + block.length, 0);
    const form = new FormData();
    form.append("file", new Blob([wavHead(rate, bytes), ...blocks]), "clicks.wav");
    form.append("start_s", String(Math.max(0, start)));
    return asked("/api/calibration", { method: "POST", body: form });
  }

  // The first click of a count-in, alone.
  async oneClick() {
    const answer = await fetch(this.piece.count(1, 0, 100));
    const whole = wav(await answer.arrayBuffer());
    const length = Math.min(whole.length, Math.round(0.07 * whole.sampleRate));
    const click = new AudioBuffer({ length, numberOfChannels: 1, sampleRate: whole.sampleRate });
    click.copyToChannel(whole.getChannelData(0).subarray(0, length), 0);
    return click;
  }

  // -- recording ------------------------------------------------------------------------
  toggle() {
    if (this.state === "ready") this.record();
    else if (this.state === "recording") this.stop();
  }

  async listening() {
    try {
      return await microphone();
    } catch (error) {
      throw Object.assign(new Error(error.message), { words: `${refusal(error)} You can bring in a recording below all the same.` });
    }
  }

  // The ground at the chosen tempo, on one audio clock for this page.
  async ready() {
    const map = await asked(`${this.root.dataset.sound}?bpm=${this.bpm}`);
    const piece = pieceOf(map);
    const address = piece.address;
    piece.address = (stem, ...rest) => (stem === "lead" ? "" : address(stem, ...rest));
    const { ctx, out, gains } = this.sound || {};
    this.piece = piece;
    this.sound = new Sound(piece, this.read());
    Object.assign(this.sound, { ctx, out, gains });
    this.sound.open({});
    this.sound.level(true);
    this.sound.onproblem = (error) => this.broke(error);
    await this.sound.ctx.resume();
  }

  async record() {
    this.complain("");
    this.go("opening");
    try {
      this.stream = await this.listening();
      await this.ready();
      const { sound, piece } = this;
      const { settings } = sound;
      if (!settings.band && !piece.has_chords) settings.band = "";
      // Everything is here before it begins: nothing may come late while it is recorded.
      await Promise.all([...piece.bars.keys()].map((index) => sound.bar(index, 100)));
      const early = [];
      const add = (piece) => (this.sender ? this.sender.add(piece) : early.push(piece));
      const exact = givesSamples();
      this.recorder = exact
        ? new Recorder(sound.ctx, this.stream, (block) => {
            this.level(block);
            add(block.samples);
          })
        : new CodedRecorder(sound.ctx, this.stream, add, (block) => this.level(block));
      this.recorder.onlost = () => this.broke(new Error("the microphone was taken away"));
      this.loudest = this.clipped = 0;
      await this.recorder.start();
      await sound.play();
      const count = sound.queue[0]; // beat 1 comes where the count-in ends; `watch` sees that it does
      if (!count) throw new Error("the band did not begin");
      this.firstBeat = count.t1;
      this.barSeconds = piece.bars[0].length * count.quarter;
      this.setting = this.settingOf(count.t1 - this.recorder.first, exact);
      const { plan, step } = this.root.dataset;
      const begun = await told(`/api/plans/${plan}/steps/${step}/recordings`, { ...this.setting, format: exact ? "wav" : this.recorder.form });
      this.take = begun.id;
      this.sender = new Sender({ piece: (offset) => `/api/takes/${begun.id}/audio?offset=${offset}` }, exact ? sound.ctx.sampleRate : null);
      this.sender.onstate = (error) => this.sending(error);
      for (const piece of early) this.sender.add(piece);
      this.go("recording");
      this.timer = setInterval(() => this.watch(), 100);
    } catch (error) {
      await this.let();
      this.complain(error.words || `It cannot be recorded: ${error.message}`);
      this.go("ready");
    }
  }

  // With the delay not known, early or late on average stays open, unless the click can be heard.
  settingOf(start, exact) {
    const known = this.delay;
    const same = exact && known && (!known.label || known.label === this.stream.getAudioTracks()[0].label);
    const click = this.listen === "speakers" && Boolean(this.sound.settings.click);
    const start_s = Math.max(-60, Math.min(600, start));
    return { bpm: this.bpm, start_s, delay_s: same ? known.delay_s : null, click };
  }

  watch() {
    const { sound } = this;
    const slipped = sound.queue.some((entry, i) => i && entry.t0 - sound.queue[i - 1].t1 > 0.003);
    if (slipped) {
      this.broke(new Error("the band could not keep up on this device; close other programs"));
      return;
    }
    const bars = (sound.heard() - this.firstBeat) / this.barSeconds;
    const asked_for = Number(this.root.dataset.bars);
    const count = Math.floor(bars) + 1;
    const beat = sound.position();
    if (bars < 0) this.write(beat?.count ? `Count-in, ${Math.floor(beat.at / this.piece.beat) + 1}` : "Count-in");
    else this.write(count <= asked_for ? `Bar ${count} of ${asked_for}` : `Bar ${count}; ${asked_for} were asked for`);
    if (this.recorder.seconds > LONGEST_S) this.stop();
  }

  async stop(trouble = "") {
    if (this.state !== "recording") return;
    this.go("judging");
    clearInterval(this.timer);
    const { sender, take } = this;
    try {
      await this.let();
      await sender.send();
      const outcome = await told(`/api/takes/${take}/finish`, this.setting);
      location.assign(`/plans/${this.root.dataset.plan}/takes/${take}${outcome.marked ? "?marked=true" : ""}`);
    } catch (error) {
      this.complain(`${trouble || "It is not judged yet"}: ${error.message}. What was sent is kept; open this page again to have it judged.`);
      this.go("ready");
    }
  }

  broke(error) {
    this.complain(`Recording stopped: ${error.message}. What was played so far is kept.`);
    if (this.state === "recording") this.stop();
  }

  // Let go of the microphone and the band.
  async let() {
    clearInterval(this.timer);
    if (this.sound?.run) this.sound.halt();
    if (this.recorder?.node) await this.recorder.stop();
    for (const track of this.stream?.getTracks() || []) track.stop();
    this.recorder = null;
    this.sender = null;
  }

  // -- what is shown ----------------------------------------------------------------------
  go(state) {
    this.state = state;
    const busy = state !== "ready";
    const words = {
      ready: "Ready", opening: "Opening the microphone", measuring: "Measuring the delay",
      recording: "Recording", judging: "Listening to it; a moment",
    };
    this.root.classList.toggle("recording", state === "recording");
    this.part("word").textContent = state === "recording" ? "Stop" : "Record";
    // Not `disabled` while it goes on: a button that is loses the keyboard's focus.
    this.part("record").disabled = this.part("measure").disabled = false;
    this.part("record").setAttribute("aria-disabled", String(busy && state !== "recording"));
    for (const name of ["measure", "forget"]) this.part(name).setAttribute("aria-disabled", String(busy));
    for (const control of this.root.querySelectorAll("[data-settings] :is(input, select):not([type=range])")) control.disabled = busy;
    this.part("level").hidden = state !== "recording";
    this.part("state").textContent = words[state];
    this.write(words[state]);
    this.sending(null);
  }

  write(text) {
    const place = this.part("where");
    if (place.textContent !== text) place.textContent = text;
  }

  complain(text) {
    const place = this.part("problem");
    place.hidden = !text;
    place.textContent = text;
  }

  sending(error) {
    this.part("sending").textContent = error ? `It cannot be sent at the moment (${error.message}); it is kept here and sent again.` : "";
  }

  level({ loudest, clipped }) {
    this.loudest = Math.max(loudest, 0.9 * this.loudest);
    this.clipped = clipped ? 30 : Math.max(0, this.clipped - 1);
    this.most = Math.max(this.most || 0, loudest);
    this.part("meter").value = Math.sqrt(this.loudest);
    let words = "good";
    if (this.clipped) words = "clipped: go further away, or turn the input down";
    else if (this.loudest > LOUD) words = "too loud: go a little further away";
    else if (this.loudest < SOFT) words = this.most < SOFT ? "too soft: go nearer" : "quiet";
    const place = this.part("level-words");
    if (place.textContent !== words) place.textContent = words;
    if (this.clipped && !this.toldClipped) {
      this.toldClipped = true;
      this.part("state").textContent = "The recording is clipped: go further away, or turn the input down";
    }
  }
}

for (const root of document.querySelectorAll("[data-recorder]")) root.page = new TakePage(root);
