// The line changes while its wishes do. Without scripts the same form makes a page of its own.

import { makeReachable } from "./highlight.js";

const WAIT = 90;
const narrow = matchMedia("(max-width: 620px)");
const root = document.querySelector("[data-making]");
const form = () => root.querySelector("[data-making-form]");
const part = (name) => root.querySelector(`[data-${name}]`);
const before = []; // addresses to go back to
let shown = location.pathname + location.search;
let timer = 0;
let asking = null;

// The wishes of the form as an address; bars are told where they come from only when held.
function address(button) {
  const fields = new FormData(form());
  if (button?.name) fields.set(button.name, button.value);
  if (!fields.getAll("hold").length) fields.delete("from");
  const query = new URLSearchParams();
  for (const [name, value] of fields) if (value !== "") query.append(name, value);
  return `${form().getAttribute("action")}?${query}`;
}

async function load(url) {
  asking?.abort();
  const mine = (asking = new AbortController());
  const asked = new URL(url, location.href);
  asked.searchParams.set("size", narrow.matches ? "narrow" : "wide");
  const response = await fetch(asked, { signal: mine.signal });
  const page = new DOMParser().parseFromString(await response.text(), "text/html");
  const fresh = page.querySelector("[data-making]");
  if (mine.signal.aborted) return null;
  if (!fresh) throw new Error("no line");
  const came = new URL(response.url);
  came.searchParams.delete("size");
  return { fresh, ok: response.ok, url: came.pathname + came.search };
}

function swap(fresh, id) {
  const old = root.querySelector(`#${id}`);
  const now = fresh.querySelector(`#${id}`);
  if (old && now) old.replaceChildren(...[...now.childNodes].map((n) => document.importNode(n, true)));
}

function fill(fresh, whole) {
  const open = root.querySelector("details")?.open;
  for (const live of fresh.querySelectorAll("[data-live]")) {
    const old = root.querySelector(`#${CSS.escape(live.id)}`);
    if (live.id === "line-holds" && !whole && old.dataset.bars === live.dataset.bars) {
      part("from").value = live.querySelector("[data-from]").value;
      continue;
    }
    if (live.id === "line-holds") old.dataset.bars = live.dataset.bars;
    swap(fresh, live.id);
  }
  // A slider without room stands at nothing and cannot be moved; with room it is the lick's own again.
  for (const slider of root.querySelectorAll("input[type=range]")) {
    const now = fresh.querySelector(`#${CSS.escape(slider.id)}`);
    if (!now || now.disabled === slider.disabled) continue;
    slider.disabled = now.disabled;
    slider.value = now.value;
    tell(slider);
  }
  if (whole) {
    for (const control of fresh.querySelectorAll("form[data-making-form] :is(input, select)[id]")) {
      const own = root.querySelector(`#${CSS.escape(control.id)}`);
      if (!own || control.name === "hold") continue;
      if (control.type === "checkbox") own.checked = control.checked;
      else own.value = control.value;
    }
    for (const slider of root.querySelectorAll("input[type=range]")) tell(slider);
  }
  if (open) root.querySelector("details").open = true;
  part("says").textContent = "";
  makeReachable(root);
}

// A reason that is chosen brings its note into sight in the sheet.
function follow(event) {
  const notes = event.target.closest("[data-show]")?.closest("[data-notes]")?.dataset.notes;
  if (!notes) return;
  const all = part("sheet").querySelectorAll(`[data-note="${notes}"][role=img]`);
  const note = [...all].find((one) => one.checkVisibility());
  if (!note) return;
  const sheet = part("sheet").getBoundingClientRect();
  part("sheet").scrollTop += note.getBoundingClientRect().top - sheet.top - sheet.height / 4;
}

function tell(slider) {
  slider.nextElementSibling.textContent = `${slider.value} %`;
}

async function make(button, { back = false, url = address(button) } = {}) {
  let made;
  try {
    made = await load(url);
  } catch (error) {
    if (error.name === "AbortError") return;
    location.assign(url);
    return;
  }
  if (!made) return;
  const sheet = part("sheet");
  sheet.classList.toggle("stale", !made.ok);
  if (!made.ok) {
    swap(made.fresh, "line-error");
    return;
  }
  fill(made.fresh, Boolean(button) || back);
  if (made.url !== shown && !back) before.push(shown);
  shown = made.url;
  history.replaceState(null, "", shown);
  const undo = part("undo");
  if (!before.length && document.activeElement === undo) root.querySelector("#do-another").focus();
  undo.hidden = !before.length;
  if (before.length) undo.href = before.at(-1);
  part("state").textContent = back ? "The line before is back" : "A new line is made";
}

if (root && form()) {
  document.documentElement.classList.add("has-script");
  root.addEventListener("input", (event) => {
    const control = event.target;
    if (!control.closest("[data-making-form]")) return;
    if (control.type === "range") tell(control);
    if (control.name === "hold") return; // what is held matters to the next line
    clearTimeout(timer);
    timer = setTimeout(make, control.type === "text" ? 3 * WAIT : WAIT, undefined);
  });
  root.addEventListener("submit", (event) => {
    if (!event.target.matches("[data-making-form]")) return;
    event.preventDefault();
    clearTimeout(timer);
    const button = event.submitter?.name ? event.submitter : undefined;
    if (button?.value === "another") {
      const seed = root.querySelector("[name=seed]");
      seed.value = (Number.parseInt(seed.value, 10) || 0) + 1;
    }
    make(button?.value === "another" ? undefined : button);
  });
  root.addEventListener("click", (event) => {
    const undo = event.target.closest("[data-undo]");
    if (!undo || !before.length) return;
    event.preventDefault();
    clearTimeout(timer);
    make(undefined, { back: true, url: before.pop() });
  });
  root.addEventListener("focusin", follow);
  narrow.addEventListener("change", () => make());
}
