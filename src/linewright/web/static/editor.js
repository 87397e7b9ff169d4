// The text of a lick, engraved as it is typed; errors are marked where they stand.

import { makeReachable } from "./highlight.js";

const WAIT = 350;
const form = document.querySelector("[data-editor]");
const area = form.querySelector("textarea");
const marks = form.querySelector("[data-marks]");
const state = form.querySelector("[data-state]");
const preview = form.querySelector("[data-preview]");
const stale = form.querySelector("[data-stale]");
const part = (name) => preview.querySelector(`[data-preview-${name}]`);
document.documentElement.classList.add("has-script");

let timer = 0;
let asked = 0;
let told = document.querySelector("#error"); // what was wrong when the form was sent

// -- marks ---------------------------------------------------------------------------------
function mark(line, column) {
  marks.replaceChildren();
  area.toggleAttribute("aria-invalid", Boolean(line));
  if (!line) return;
  const lines = area.value.split("\n");
  const at = Math.min(line, lines.length) - 1;
  const text = lines[at];
  const before = lines.slice(0, at).join("\n") + (at ? "\n" : "");
  const row = document.createElement("span");
  row.className = "line";
  if (column) {
    const place = Math.max(0, Math.min(column - 1, text.length));
    const spot = document.createElement("mark");
    spot.textContent = text[place] ?? " ";
    row.append(text.slice(0, place), spot, text.slice(place + 1));
  } else {
    row.append(text || " ");
  }
  marks.append(before, row, "\n" + lines.slice(at + 1).join("\n"));
  follow();
}

function follow() {
  marks.scrollTop = area.scrollTop;
  marks.scrollLeft = area.scrollLeft;
}

function goTo(line, column) {
  const lines = area.value.split("\n");
  const start = lines.slice(0, line - 1).reduce((sum, text) => sum + text.length + 1, 0);
  const from = start + Math.max(0, (column || 1) - 1);
  area.focus();
  area.setSelectionRange(from, column ? from + 1 : start + (lines[line - 1] || "").length);
  follow();
}

// What is shown is no longer what is typed: greyed, and said.
function old(is) {
  const shown = is && Boolean(preview.querySelector("svg"));
  preview.classList.toggle("stale", shown);
  stale.hidden = !shown;
}

function wrong(error) {
  state.classList.add("wrong");
  const where = error.where ? error.where[0].toUpperCase() + error.where.slice(1) + ": " : "";
  const rest = error.accepted ? `. ${error.accepted}` : "";
  state.textContent = `${where}${error.message}${rest}`;
  if (error.line) {
    const go = document.createElement("button");
    go.type = "button";
    go.textContent = "Go there";
    go.addEventListener("click", () => goTo(error.line, error.column));
    state.append(" ", go);
  }
  mark(error.line, error.column);
  old(true);
}

// -- the engraved result -------------------------------------------------------------------
function drawing(text) {
  const parsed = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
  return document.importNode(parsed, true);
}

function show(result) {
  state.classList.remove("wrong");
  state.textContent = result.problem ? `This rhythm cannot be printed: ${result.problem}` : "";
  mark(0, 0);
  old(false);
  const score = document.createElement("div");
  score.className = "score";
  score.dataset.score = "";
  for (const [name, svg] of [["wide", result.svg], ["narrow", result.svg_narrow]]) {
    const box = document.createElement("div");
    box.className = name;
    if (svg) box.append(drawing(svg));
    score.append(box);
  }
  const says = document.createElement("p");
  says.className = "says";
  says.dataset.says = "";
  part("score").replaceChildren(score, says);
  part("frame").textContent = result.frame;
  part("verdict").textContent = result.verdict;
  part("remarks").replaceChildren(
    ...result.remarks.map((remark) => {
      const item = document.createElement("li");
      item.textContent = remark;
      return item;
    }),
  );
  makeReachable(preview);
}

// Whether anything is written yet besides headers and empty strings.
function hasNotes(text) {
  const lines = text.split("\n").filter((line) => !/^\s*[A-Za-z][A-Za-z ]*:/.test(line));
  return lines.some((line) => {
    const onStrings = /^\s*[A-Ga-g]?[#b]?\s*\|.*--/.test(line);
    return onStrings ? /[\dxX]/.test(line.slice(2)) : /[A-Ga-g\d]/.test(line);
  });
}

async function ask() {
  const text = area.value;
  const number = ++asked;
  if (!hasNotes(text)) {
    state.classList.remove("wrong");
    state.textContent = "";
    mark(0, 0);
    old(true);
    return;
  }
  const tonic = form.querySelector("[name=tonic]")?.value.trim() || null;
  const octave = form.querySelector("[name=octave]")?.value || "written";
  const instrument = form.querySelector("[name=instrument]")?.value || null;
  try {
    const response = await fetch("/api/preview", {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify({ text, tonic, octave, instrument }),
    });
    const result = await response.json();
    if (number !== asked) return; // something newer was typed meanwhile
    if (response.ok) show(result);
    else wrong(result.error);
  } catch {
    if (number === asked) wrong({ message: "The server does not answer", accepted: "Is it still running?" });
  }
}

function later() {
  for (const box of document.querySelectorAll("#error, #error-tonic")) box.remove();
  told = null;
  mark(0, 0);
  clearTimeout(timer);
  timer = setTimeout(ask, WAIT);
}

area.addEventListener("input", later);
area.addEventListener("scroll", follow);
for (const field of form.querySelectorAll("[name=tonic], [name=octave], [name=instrument]")) field.addEventListener("input", later);
new ResizeObserver(follow).observe(area);
if (area.dataset.line) mark(Number(area.dataset.line), Number(area.dataset.column || 0));
else if (!preview.querySelector("svg") && !told) ask(); // the box above has said it
