// The player on a page: what is played, and the cursor in step with the sound.

import { Controls } from "./player-controls.js";
import { pieceOf } from "./player-piece.js";
import { Sound } from "./player-sound.js";

const players = [];
let active = null;

export class Player extends Controls {
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
    this.part("choosing").hidden = false; // before a line is there, there is no bar to choose
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

  get hasKeys() {
    return this === active;
  }
}

for (const root of document.querySelectorAll("[data-player]")) {
  root.player = new Player(root);
  players.push(root.player);
  active ||= root.player; // the keys are the first player's, then the last one's that played
}
