// The controls of the player: settings read, kept and recalled; buttons, keys and bars that were pressed.

import { InScore } from "./player-score.js";

const KEEP = "linewright-player";
const STEMS = ["lead", "band", "click"];
const OWN = "a, button, input, select, textarea, summary, [contenteditable], [role=slider]";

function remembered() {
  try {
    return JSON.parse(localStorage.getItem(KEEP)) || {};
  } catch {
    return {};
  }
}

// What Controls asks of the player: play, pause, go and the rest; hasKeys says whether keys are this one's.
export class Controls extends InScore {
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
    if (event.ctrlKey || event.metaKey || event.altKey || !this.settings.keys || !this.hasKeys) return;
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
