// The music of a step comes when the step is opened. Without scripts a link leads to a page with it.

import { makeReachable } from "./highlight.js";

const root = document.querySelector("[data-plan]");
const state = document.querySelector("[data-plan-state]");

async function fill(step) {
  const link = step.querySelector("[data-fetch]");
  if (!link || step.dataset.busy) return;
  step.dataset.busy = "yes";
  link.setAttribute("aria-busy", "true");
  try {
    const response = await fetch(link.href);
    const page = new DOMParser().parseFromString(await response.text(), "text/html");
    const music = page.querySelector(`#${CSS.escape(step.parentElement.id)} [data-music]`);
    if (!response.ok || !music) throw new Error("no music");
    const had = document.activeElement === link;
    const place = step.querySelector("[data-music]");
    place.replaceChildren(...[...music.childNodes].map((node) => document.importNode(node, true)));
    makeReachable(place);
    if (state) state.textContent = "The music of this step is there";
    if (had) {
      place.tabIndex = -1;
      place.focus();
    }
  } catch {
    link.removeAttribute("aria-busy"); // the link is still there to follow
  }
  delete step.dataset.busy;
}

if (root) {
  root.addEventListener("toggle", (event) => {
    if (event.target.matches("[data-step]") && event.target.open) fill(event.target);
  }, true);
  root.addEventListener("click", (event) => {
    const link = event.target.closest("[data-fetch]");
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    fill(link.closest("[data-step]"));
  });
  const aimed = document.getElementById(location.hash.slice(1))?.querySelector("[data-step]");
  if (aimed) aimed.open = true;
  for (const step of root.querySelectorAll("[data-step][open]")) fill(step);
}
