// What the player shows in score, tab and neck: the note that sounds, its bar, the bars chosen.

const BARS = "[data-score] :is(.measure, .bar-choice)[data-bar]";

export class InScore {
  // -- the cursor -----------------------------------------------------------------------
  // What sounds at a moment: the index of the note, or null.
  noteAt(index, at) {
    let found = null;
    for (const bar of [index, index - 1]) {
      for (const note of (this.piece.endless ? this.piece.rows.get(bar)?.notes : this.byBar[bar]) || []) {
        if (note.onset <= at + 1e-6 && at < note.end && (!found || note.onset >= found.onset)) found = note;
      }
      if (found) break;
    }
    return found;
  }

  // Two bars of a line without end: the one that sounds and the one to come, in turn.
  async showSlots(index) {
    if (this.slotted === index) return;
    this.slotted = index;
    const slots = this.part("endless").children;
    for (const bar of [index, index + 1]) {
      const slot = slots[bar % 2];
      if (slot.dataset.index === String(bar)) continue;
      const row = await this.piece.bar(bar);
      if (this.slotted !== index) return;
      slot.dataset.index = bar;
      slot.innerHTML = row.svg;
      this.lit = null;
    }
  }

  // Where notes are shown: the score, tab and neck of the page, or the bar's own.
  drawings(note) {
    if (this.piece.endless) return this.root.querySelectorAll(`[data-slot][data-index="${note.bar}"] svg`);
    return this.scope.querySelectorAll("[data-score] svg.engraving, [data-neck] svg, [data-strip] svg");
  }

  light(note) {
    const notes = note ? note.together : null;
    const key = notes ? `${note.bar}: ${notes.join(" ")}` : "";
    if (key === this.lit) return;
    for (const part of this.scope.querySelectorAll(".now")) part.classList.remove("now");
    this.lit = key;
    if (!notes) return;
    for (const svg of this.drawings(note)) {
      if (!svg.checkVisibility()) continue;
      for (const index of notes) {
        for (const part of svg.querySelectorAll(`[data-note="${index}"], [data-notes~="${index}"]:not(.figure)`)) part.classList.add("now");
      }
    }
    this.follow();
  }

  // The system that sounds stays in sight, also in a score that scrolls in its own box, until a
  // hand scrolls.
  follow() {
    const note = [...this.scope.querySelectorAll(".engraving .note.now")].find((one) => one.checkVisibility());
    const system = note?.closest(".system");
    if (!system || system === this.followed) return;
    this.followed = system;
    const sheet = note.closest("[data-sheet]");
    const own = system.getBoundingClientRect();
    if (sheet && sheet.scrollHeight > sheet.clientHeight) {
      const box = sheet.getBoundingClientRect();
      if (own.top < box.top || own.bottom > box.bottom) sheet.scrollTop += own.top - box.top - 8;
    }
    if (this.left) return;
    const low = innerHeight - 90;
    if (own.top < 0 || own.bottom > low) scrollBy(0, own.top - Math.max(8, (low - own.height) / 3));
  }

  // The button to pause comes along when its place is out of sight.
  dock(out) {
    this.out = out;
    const row = this.part("transport-place");
    row.style.minHeight = row.offsetHeight ? `${row.offsetHeight}px` : "";
    row.firstElementChild.classList.toggle("docked", out && Boolean(this.sound?.playing));
    if (!out) row.style.minHeight = "";
  }

  // -- bars in the score ----------------------------------------------------------------
  layBars() {
    for (const svg of this.scope.querySelectorAll("[data-score] svg.engraving")) {
      if (!svg.checkVisibility() || svg.querySelector(".bar-choice")) continue;
      for (const system of svg.querySelectorAll("g.system")) {
        const tall = system.getBBox();
        const rects = [...system.querySelectorAll("g.measure[data-bar]")].map((measure) => {
          const wide = measure.getBBox();
          const rect = document.createElementNS("http://www.w3.org/2000/svg", "rect");
          const set = {
            x: wide.x, width: wide.width, y: tall.y, height: tall.height, class: "bar-choice",
            "data-bar": measure.dataset.bar,
          };
          for (const [name, value] of Object.entries(set)) rect.setAttribute(name, value);
          return rect;
        });
        system.prepend(...rects); // under everything else, so that notes and brackets answer first
      }
    }
    this.showChoice();
  }

  indexOf(measure) {
    const number = Number(measure.dataset.bar);
    return this.piece.bars.findIndex((bar) => bar.number === number);
  }

  markBar(index) {
    if (index === this.marked || this.piece?.endless) return;
    this.marked = index;
    for (const measure of this.scope.querySelectorAll(BARS)) {
      measure.classList.toggle("sounding", index !== null && this.indexOf(measure) === index);
    }
  }

  // Which bar of the score a click or tap is in; undefined when in none of this score.
  barAt(target) {
    const measure = target.closest(BARS);
    return measure && this.scope.contains(measure) ? this.indexOf(measure) : undefined;
  }

  showBars(bars) {
    for (const measure of this.scope.querySelectorAll(BARS)) {
      const index = this.indexOf(measure);
      measure.classList.toggle("chosen", Boolean(bars) && index >= bars[0] && index <= bars[1]);
    }
  }
}
