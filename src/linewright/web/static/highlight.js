// Point at a reading, degree or note: its notes stand out in the score and on the neck.
// Point at a note in the score: it is said in words below, and its degree lights up.

const drawings = () => document.querySelectorAll("[data-score] svg, [data-neck] svg");
const numbers = (text) => new Set((text || "").split(" ").filter(Boolean));

function clear() {
  for (const svg of drawings()) svg.classList.remove("pointing");
  for (const lit of document.querySelectorAll(".lit, .left")) lit.classList.remove("lit", "left");
}

function light(notes, left = new Set()) {
  clear();
  for (const svg of drawings()) {
    let any = false;
    for (const note of svg.querySelectorAll("[data-note], [data-notes]")) {
      const own = numbers(note.dataset.note ?? note.dataset.notes);
      const isLit = [...own].some((n) => notes.has(n));
      const isLeft = !isLit && [...own].some((n) => left.has(n));
      note.classList.toggle("lit", isLit);
      note.classList.toggle("left", isLeft);
      any ||= isLit || isLeft;
    }
    svg.classList.toggle("pointing", any);
  }
}

function lightOwner(owner) {
  light(numbers(owner.dataset.notes), numbers(owner.dataset.left));
  owner.classList.add("lit");
}

function lightNote(note) {
  const own = numbers(note.dataset.note);
  light(own);
  for (const owner of document.querySelectorAll(".degrees [data-notes], .outside-notes [data-notes]")) {
    const its = numbers(owner.dataset.notes);
    if ([...own].some((n) => its.has(n))) owner.classList.add("lit");
  }
  const says = document.querySelector("[data-says]");
  const title = titled(note);
  if (says && title) says.textContent = title;
}

function titled(note) {
  const own = note.querySelector("title");
  if (own) return own.textContent;
  const svg = note.closest("svg.engraving") || note.closest("svg");
  const twin = svg.querySelector(`[data-note="${note.dataset.note}"] title`);
  return twin ? twin.textContent : "";
}

// Elements that point: listen on the page, so that a refreshed preview needs no new listeners.
document.addEventListener("pointerover", (event) => {
  const note = event.target.closest?.("svg [data-note]");
  if (note) return lightNote(note);
  const owner = event.target.closest?.("[data-notes]");
  if (owner) return lightOwner(owner);
  if (!document.activeElement?.closest?.("[data-notes], svg [data-note]")) clear();
});
document.addEventListener("focusin", (event) => {
  const note = event.target.closest?.("svg [data-note]");
  if (note) return lightNote(note);
  const owner = event.target.closest?.("[data-notes]");
  if (owner) lightOwner(owner);
  else clear();
});
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape") {
    clear();
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
