// The player on a page: buttons, keys, bars chosen in the score, and the cursor in step with the sound.

import { pieceOf } from "./player-piece.js";
import { InScore } from "./player-score.js";
import { Sound } from "./player-sound.js";

const KEEP = "linewright-player";
const STEMS = ["lead", "band", "click"];
const OWN = "a, button, input, select, textarea, summary, [contenteditable], [role=slider]";

const players = [];
let active = null;

function remembered() {
  try {
    return JSON.parse(localStorage.getItem(KEEP)) || {};
  } catch {
    return {};
  }
}

export class Player extends InScore {
  constructor(root) {
    super();
    this.root = root;
    this.scope = root.closest("[data-player-scope]") || document;
    this.settings = {
      percent: 100, band: "", click: "", countIn: 0, muted: false, keys: true,
      levels: { lead: 1, band: 0.7, click: 0.6 },
      drop: { sound: 2, silent: 0 },
      loop: { on: false, bars: null },
      ladder: null,
    };
    this.rungs = { every: 2, by: 5, upTo: 100 };
    this.part = (name) => root.querySelector(`[data-${name}]`);
    this.lit = null;
    this.listen();
    this.recall();
    this.arrive();
  }

  // -- what is played -------------------------------------------------------------------
  async arrive() {
    const line = this.scope.querySelector("[data-line-source]");
    const address = line?.dataset.lineSource || this.root.dataset.playerSource;
    if (!address || address === this.address) return;
    this.address = address;
    this.stop();
    const map = await this.mapAt(address);
    if (map && address === this.address) this.take(map);
  }

  async mapAt(address) {
    try {
      const answer = await fetch(address);
      const map = await answer.json();
      if (!answer.ok) throw new Error(map.message || answer.statusText);
      this.complain(null);
      return map;
    } catch (error) {
      this.complain(error);
      return null;
    }
  }

  // A line without end in place of the line, or the line again.
  async toggleEndless() {
    const wanted = !this.piece?.endless;
    const source = this.scope.querySelector("[data-line-source]")?.dataset;
    if (!source) return;
    this.stop();
    const map = await this.mapAt(wanted ? source.endlessSource : source.lineSource);
    if (!map) return;
    this.take(map);
    if (wanted) this.play();
  }

  take(map) {
    this.map = map;
    this.piece = pieceOf(map);
    this.settings.loop.bars = null;
    const ctx = this.sound?.ctx;
    const { out, gains } = this.sound || {};
    this.sound = new Sound(this.piece, this.settings);
    Object.assign(this.sound, { ctx, out, gains });
    this.sound.onend = () => this.stopped();
    this.sound.onproblem = (error) => this.complain(error);
    this.byBar = map.bars.map(() => []);
    for (const note of map.notes) this.byBar[note.bar].push(note);
    const endless = this.part("endless");
    if (endless) {
      endless.hidden = !map.endless;
      for (const slot of endless.children) slot.replaceChildren();
      this.part("endless-button").setAttribute("aria-pressed", String(map.endless));
    }
    this.root.classList.toggle("without-end", map.endless);
    this.fillSelects(map);
    this.showTempo();
    this.layBars();
    this.say();
    const idle = window.requestIdleCallback || ((then) => setTimeout(then, 200));
    idle(() => this.sound.prepare());
  }

  fillSelects(map) {
    const band = this.part("band");
    for (const option of band.options) {
      if (option.value === "usual") option.textContent = `As suits it: ${map.usual}`;
    }
    band.disabled = !map.has_chords;
    if (!map.has_chords) this.settings.band = band.value = "";
    this.part("no-chords").hidden = map.has_chords;
    for (const name of ["from", "to"]) {
      const select = this.part(name);
      select.replaceChildren(
        ...map.bars.map((bar, index) => new Option(bar.number ? `bar ${bar.number}` : "pickup", index)),
      );
    }
    this.showChoice();
  }

  complain(error) {
    const place = this.part("problem");
    place.hidden = !error;
    if (error) place.setAttribute("role", "alert");
    place.textContent = error ? `There is no sound: ${error.message}` : "";
    if (error) this.stopped();
  }

  // -- play and pause -------------------------------------------------------------------
  toggle() {
    if (!this.sound) return;
    if (this.sound.playing) this.pause();
    else this.play();
  }

  play() {
    if (!this.sound) return;
    for (const other of players) if (other !== this && other.sound?.playing) other.pause();
    active = this;
    const loop = this.settings.loop;
    const place = this.sound.place;
    if (loop.on && loop.bars && (place.index < loop.bars[0] || place.index > loop.bars[1])) {
      this.sound.place = { index: loop.bars[0], quarter: null };
    }
    this.sound.first = null;
    this.sound.play();
    this.showPlaying(true);
    cancelAnimationFrame(this.frame);
    this.frame = requestAnimationFrame(() => this.draw());
  }

  pause() {
    this.sound.pause();
    this.showPlaying(false);
    this.say();
  }

  stop() {
    if (this.sound?.playing) this.sound.halt();
    this.stopped();
  }

  stopped() {
    this.showPlaying(false);
    this.light(null);
    this.markBar(null);
    if (this.sound) this.say();
  }

  showPlaying(on) {
    const button = this.part("play");
    button.setAttribute("aria-pressed", String(on));
    button.querySelector("[data-word]").textContent = on ? "Pause" : "Play";
    this.root.classList.toggle("playing", on);
    if (on) this.left = this.followed = null;
    this.dock(this.out);
  }

  go(step) {
    if (!this.sound) return;
    const here = this.sound.position();
    let index = here && !here.count ? here.index : this.sound.place.index;
    const into = here && !here.count ? here.at - (this.piece.bar(index)?.start ?? here.at) : 0;
    if (!(step < 0 && into > 1)) index += step; // back goes to the start of this bar first
    index = Math.max(0, this.piece.endless ? index : Math.min(index, this.piece.bars.length - 1));
    this.sound.seek(index);
    if (!this.sound.playing) this.say();
    this.markBar(index);
  }

  draw() {
    if (!this.sound.playing) return;
    const here = this.sound.position();
    if (here) {
      if (this.sound.begun && this.sound.first === null && this.sound.heard() >= this.sound.begun.at) {
        this.sound.first = performance.now() - this.sound.begun.asked;
        this.root.dataset.firstSound = Math.round(this.sound.first);
      }
      this.show(here);
    }
    this.frame = requestAnimationFrame(() => this.draw());
  }

  show(here) {
    if (here.count) {
      this.write(`Count-in, ${Math.floor(here.at / this.map.beat) + 1}`);
      return;
    }
    const note = here.over ? null : this.noteAt(here.index, here.at);
    if (this.piece.endless) this.showSlots(here.index);
    this.light(note);
    this.markBar(here.index);
    this.now = { ...here, note: note?.note ?? null };
    this.say(here);
  }

  say(here = null) {
    const index = here ? here.index : this.sound.place.index;
    const number = this.piece.endless ? index + 1 : this.piece.bars[index].number;
    const name = number ? `Bar ${number}` : "Pickup";
    const tempo = this.tempoWords(here ? here.percent : this.settings.percent);
    const pass = here && this.settings.loop.on ? `, pass ${here.pass + 1}` : "";
    this.write(`${name}${pass}, ${tempo}`);
  }

  tempoWords(percent) {
    return `${Math.round((this.map.bpm / this.map.counted) * percent / 100)} a minute`;
  }

  write(text) {
    const place = this.part("where");
    if (place.textContent !== text) place.textContent = text;
  }

  choose(index) {
    const { loop } = this.settings;
    const one = loop.bars && loop.bars[0] === loop.bars[1] && this.choosing;
    if (one && index !== loop.bars[0]) {
      loop.bars = [Math.min(index, loop.bars[0]), Math.max(index, loop.bars[0])];
      this.choosing = false;
    } else if (one) {
      loop.bars = null;
      this.choosing = false;
    } else {
      loop.bars = [index, index];
      this.choosing = true;
    }
    loop.on = Boolean(loop.bars);
    this.chosen();
  }

  chosen() {
    const { loop } = this.settings;
    this.showChoice();
    if (!this.sound) return;
    if (!this.sound.playing && loop.bars) this.sound.place = { index: loop.bars[0], quarter: null };
    if (this.sound.playing) {
      const here = this.sound.position();
      const outside = loop.on && loop.bars && here && (here.index < loop.bars[0] || here.index > loop.bars[1]);
      if (outside) this.sound.seek(loop.bars[0]);
      else this.sound.change();
    } else {
      this.sound.prepare();
      this.say();
    }
  }

  showChoice() {
    const { loop } = this.settings;
    const bars = loop.on ? loop.bars : null;
    this.part("loop").setAttribute("aria-pressed", String(loop.on));
    const last = this.piece ? this.piece.bars.length - 1 : 0;
    this.part("from").value = bars ? bars[0] : 0;
    this.part("to").value = bars ? bars[1] : last;
    if (!this.piece || this.piece.endless) return;
    this.showBars(bars);
    const whole = !bars || (bars[0] === 0 && bars[1] === last);
    const name = (i) => (this.piece.bars[i].number ? `bar ${this.piece.bars[i].number}` : "the pickup");
    const named = whole ? "the whole" : bars[0] === bars[1] ? name(bars[0]) : `${name(bars[0])} to ${name(bars[1])}`;
    this.part("chosen").textContent = loop.on ? `Again and again: ${named}` : "Once through";
  }

  toggleLoop() {
    const { loop } = this.settings;
    loop.on = !loop.on;
    if (!loop.on) loop.bars = null;
    this.choosing = false;
    this.chosen();
  }

  // -- settings -------------------------------------------------------------------------
  setTempo(percent) {
    const value = Math.max(30, Math.min(150, Math.round(percent)));
    this.settings.percent = value;
    this.part("tempo").value = value;
    this.showTempo();
    clearTimeout(this.waiting);
    this.waiting = setTimeout(() => (this.sound?.playing ? this.sound.change() : this.sound?.prepare()), 140);
    this.keep();
  }

  showTempo() {
    const { percent } = this.settings;
    this.part("tempo-said").textContent = this.map ? `${percent} %, ${this.tempoWords(percent)}` : `${percent} %`;
    this.part("tempo").setAttribute("aria-valuetext", this.part("tempo-said").textContent);
    if (this.sound && !this.sound.playing) this.say();
  }

  mute() {
    this.settings.muted = !this.settings.muted;
    this.part("mute").setAttribute("aria-pressed", String(this.settings.muted));
    this.sound?.level();
  }

  // Read every control of the page into the settings.
  read() {
    const value = (name) => this.part(name).value;
    const whole = (name, low, high) => Math.max(low, Math.min(high, Number.parseInt(value(name), 10) || 0));
    const s = this.settings;
    s.band = this.part("band").disabled ? "" : value("band");
    s.click = value("click");
    s.countIn = Number(value("count"));
    s.drop = { sound: whole("drop-sound", 1, 64), silent: whole("drop-silent", 0, 64) };
    for (const stem of STEMS) s.levels[stem] = Number(value(`level-${stem}`)) / 100;
    this.rungs = { every: whole("every", 1, 50), by: whole("by", 1, 50), upTo: whole("up-to", 30, 150) };
    s.ladder = this.part("ladder").checked ? this.rungs : null;
    s.keys = this.part("keys").checked;
  }

  keep() {
    const { percent, band, click, countIn, levels, drop, keys } = this.settings;
    try {
      localStorage.setItem(KEEP, JSON.stringify({ percent, band, click, countIn, levels, drop, keys, rungs: this.rungs }));
    } catch {
      // kept for this page only
    }
  }

  recall() {
    const old = remembered();
    const set = (name, value) => {
      if (value !== undefined) this.part(name).value = value;
    };
    set("band", old.band);
    set("click", old.click);
    set("count", old.countIn);
    set("drop-sound", old.drop?.sound);
    set("drop-silent", old.drop?.silent);
    for (const stem of STEMS) set(`level-${stem}`, old.levels ? Math.round(100 * old.levels[stem]) : undefined);
    set("every", old.rungs?.every);
    set("by", old.rungs?.by);
    set("up-to", old.rungs?.upTo);
    if (old.keys === false) this.part("keys").checked = false;
    this.settings.percent = old.percent || 100;
    this.part("tempo").value = this.settings.percent;
    this.showTempo();
    this.read();
  }

  // -- listening ------------------------------------------------------------------------
  listen() {
    const act = {
      play: () => this.toggle(), back: () => this.go(-1), on: () => this.go(1), loop: () => this.piece?.endless || this.toggleLoop(),
      mute: () => this.mute(), endless: () => this.toggleEndless(), whole: () => ((this.settings.loop.bars = null), (this.choosing = false), this.chosen()),
      slower: () => this.setTempo(this.settings.percent - 5), faster: () => this.setTempo(this.settings.percent + 5),
    };
    this.root.addEventListener("click", (event) => act[event.target.closest("button[data-do]")?.dataset.do]?.());
    // The first bars are fetched when a hand comes near.
    for (const kind of ["pointerenter", "pointerdown", "focusin"]) {
      this.part("play").addEventListener(kind, () => this.sound && !this.sound.playing && this.sound.prepare());
    }
    this.root.addEventListener("input", (event) => this.changed(event.target));
    document.addEventListener("keydown", (event) => this.key(event, act));
    document.addEventListener("click", (event) => {
      if (!this.piece || this.piece.endless || event.target.closest("[data-note], .figure")) return;
      const bar = this.barAt(event.target);
      if (bar !== undefined) this.choose(bar);
    });
    new IntersectionObserver(([seen]) => this.dock(!seen.isIntersecting)).observe(this.part("transport-place"));
    for (const kind of ["wheel", "touchmove"]) addEventListener(kind, () => (this.left = true), { passive: true });
    addEventListener("resize", () => this.map && this.layBars());
    let waits = false;
    new MutationObserver((changes) => {
      if (waits || changes.every((change) => this.root.contains(change.target) || change.target.closest?.("[data-says]"))) return;
      waits = true;
      requestAnimationFrame(() => {
        waits = false;
        this.lit = null;
        this.arrive();
        if (this.map) this.layBars();
      });
    }).observe(this.scope === document ? document.querySelector("main") : this.scope, { childList: true, subtree: true });
  }

  changed(control) {
    const name = control.dataset;
    if ("tempo" in name) {
      this.setTempo(Number(control.value));
      return;
    }
    if ("from" in name || "to" in name) {
      const [a, b] = [Number(this.part("from").value), Number(this.part("to").value)];
      this.settings.loop.bars = "from" in name ? [a, Math.max(a, b)] : [Math.min(a, b), b];
      this.settings.loop.on = true;
      this.chosen();
      return;
    }
    const { band, click } = this.settings;
    this.read();
    this.sound?.level();
    if (this.settings.band !== band || this.settings.click !== click || "ladder" in name) {
      if (this.sound?.playing) this.sound.change();
      else this.sound?.prepare();
    }
    if ("ladder" in name && control.checked && !this.settings.loop.on) this.toggleLoop();
    this.keep();
  }

  key(event, act) {
    if (event.ctrlKey || event.metaKey || event.altKey || !this.settings.keys || this !== active) return;
    const on = event.target;
    if (on.closest?.("input, select, textarea, [contenteditable]")) return;
    const inScore = on.closest?.("[data-note]");
    const does = {
      " ": "play", ArrowLeft: "back", ArrowRight: "on", "+": "faster", "=": "faster", "-": "slower",
      l: "loop", L: "loop", m: "mute", M: "mute",
    }[event.key];
    if (!does) return;
    if (event.key === " " && on.closest?.(OWN)) return; // it presses what it stands on
    if (event.key.startsWith("Arrow") && (inScore || on.closest?.("[role=region], [tabindex='0']"))) return;
    event.preventDefault();
    act[does]();
  }
}

for (const root of document.querySelectorAll("[data-player]")) {
  root.player = new Player(root);
  players.push(root.player);
  active ||= root.player; // the keys are the first player's, then the last one's that played
}
