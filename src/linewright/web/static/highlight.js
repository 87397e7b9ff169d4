// Point at a reading, a degree, a figure or a sentence about notes: they stand out in the score,
// on the neck and in the rhythm strip. Choose one further down the page (by key, click or tap) and
// the score comes along in a panel. Point at a note in the score: it is said in words below.

const drawings = () =>
  document.querySelectorAll("[data-score] svg, [data-neck] svg, [data-strip] svg");
const numbers = (text) => new Set((text || "").split(" ").filter(Boolean));
const NOTE = "svg [data-note]";

function clear() {
  for (const svg of drawings()) svg.classList.remove("pointing");
  for (const lit of document.querySelectorAll(".lit, .left")) lit.classList.remove("lit", "left");
}

function light(notes, left = new Set(), figure = undefined) {
  clear();
  for (const svg of drawings()) {
    let any = false;
    for (const part of svg.querySelectorAll("[data-note], [data-notes]")) {
      const own = numbers(part.dataset.note ?? part.dataset.notes);
      const isBracket = part.matches(".figure");
      const isLit = isBracket ? part.dataset.figure === figure : [...own].some((n) => notes.has(n));
      const isLeft = !isLit && !isBracket && [...own].some((n) => left.has(n));
      part.classList.toggle("lit", isLit);
      part.classList.toggle("left", isLeft);
      any ||= isLit || isLeft;
    }
    svg.classList.toggle("pointing", any);
  }
}

function lightOwner(owner) {
  light(numbers(owner.dataset.notes), numbers(owner.dataset.left), owner.dataset.figure);
  owner.classList.add("lit");
  if (owner.matches("svg .figure")) {
    const twin = `.figures [data-figure="${owner.dataset.figure}"]`;
    document.querySelector(twin)?.classList.add("lit");
    say(owner.querySelector("title")?.textContent);
  }
}

function lightNote(note) {
  const own = numbers(note.dataset.note);
  light(own);
  for (const owner of document.querySelectorAll(".degrees [data-notes], .each [data-notes]")) {
    const its = numbers(owner.dataset.notes);
    if ([...own].some((n) => its.has(n))) owner.classList.add("lit");
  }
  say(titled(note), note);
}

function say(text, near = undefined) {
  const own = near?.closest("section, article, form")?.querySelector("[data-says]");
  const says = own || document.querySelector("[data-says]");
  if (says && text) says.textContent = text;
}

function titled(note) {
  const own = note.querySelector("title");
  if (own) return own.textContent;
  const svg = note.closest("svg.engraving") || note.closest("svg");
  const twin = svg.querySelector(`[data-note="${note.dataset.note}"] title`);
  return twin ? twin.textContent : "";
}

// -- the score comes along -------------------------------------------------------------------
const inView = (box) => box.bottom > 0 && box.top < innerHeight;

function bringAlong(owner) {
  putBack();
  const place = document.querySelector("[data-score-place]");
  const all = document.querySelectorAll("[data-score-place]");
  if (!place || all.length > 1) return;
  const lit = [...place.querySelectorAll(".lit, .left")].filter((part) => part.checkVisibility());
  if (!lit.length || lit.some((part) => inView(part.getBoundingClientRect()))) return;
  const by = owner.querySelector("[data-show]") || owner;
  place.style.minHeight = `${place.offsetHeight}px`;
  place.classList.add("along");
  const middle = by.getBoundingClientRect().top + by.offsetHeight / 2;
  place.classList.toggle("above", middle > innerHeight / 2);
  const panel = place.firstElementChild;
  const { top, bottom } = panel.getBoundingClientRect();
  // What was chosen stands whole beside the panel.
  const own = owner.getBoundingClientRect();
  const above = place.classList.contains("above");
  if (above && own.top < bottom) scrollBy(0, own.top - bottom - 16);
  if (!above && own.bottom > top) scrollBy(0, Math.min(own.bottom - top + 16, own.top - 8));
  panel.scrollTop += Math.min(...lit.map((part) => part.getBoundingClientRect().top)) - top - 40;
}

function putBack() {
  const place = document.querySelector("[data-score-place].along");
  if (!place) return;
  place.classList.remove("along", "above");
  place.style.minHeight = "";
}

// Elements that point: listen on the page, so that a refreshed preview needs no new listeners.
function pointed(target) {
  const note = target.closest?.(NOTE);
  const owner = note || target.closest?.("[data-notes]");
  if (!owner) return null;
  if (note) lightNote(note);
  else lightOwner(owner);
  return owner;
}

document.addEventListener("pointerover", (event) => {
  if (pointed(event.target)) return;
  const active = document.activeElement;
  if (!active?.closest?.(`[data-notes], ${NOTE}`)) clear();
  else if (!event.target.closest?.("[data-score]")) pointed(active);
});
// While a button is pressed nothing may move under the pointer: the click that follows will do it.
let pressed = false;
document.addEventListener("mousedown", () => (pressed = true));
document.addEventListener("mouseup", () => (pressed = false));
document.addEventListener("focusin", (event) => {
  const owner = pointed(event.target);
  if (pressed && owner) return;
  if (owner && !owner.closest("svg")) bringAlong(owner);
  else if (!event.target.closest?.("[data-score]")) putBack();
  if (!owner) clear();
});
document.addEventListener("click", (event) => {
  const button = event.target.closest?.("[data-show]");
  if (button) {
    if (document.activeElement !== button) button.focus(); // not every browser does so by itself
    else {
      const owner = pointed(button);
      if (owner) bringAlong(owner);
    }
  } else if (!event.target.closest?.("[data-score]")) {
    putBack();
  }
});
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape") {
    clear();
    putBack();
    return;
  }
  const note = event.target.closest?.("[data-score] [data-note]");
  if (!note) return;
  const all = stops(note.closest("[data-score] > div"));
  const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
  let next;
  if (step) next = all[all.indexOf(note) + step];
  if (event.key === "Home") next = all[0];
  if (event.key === "End") next = all.at(-1);
  if (!next) return;
  event.preventDefault();
  for (const other of all) other.setAttribute("tabindex", other === next ? "0" : "-1");
  next.focus();
});

function stops(part) {
  return part ? [...part.querySelectorAll("[data-note][role=img]")] : [];
}

// One tab stop for each score; arrow keys move from note to note.
export function makeReachable(root = document) {
  for (const part of root.querySelectorAll("[data-score] > div")) {
    stops(part).forEach((note, index) => note.setAttribute("tabindex", index ? "-1" : "0"));
  }
}
makeReachable();
