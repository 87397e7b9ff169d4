// What stands under the staff changes in place; without scripts the same links load the page anew.

import { makeReachable } from "./highlight.js";

document.addEventListener("click", async (event) => {
  const link = event.target.closest?.("[data-labels]");
  if (!link || !document.querySelector("[data-score]") || event.metaKey || event.ctrlKey || event.shiftKey) return;
  event.preventDefault();
  const address = new URL(link.href);
  let fresh;
  try {
    const response = await fetch(address);
    if (!response.ok) throw new Error(response.statusText);
    fresh = new DOMParser().parseFromString(await response.text(), "text/html");
    if (!fresh.querySelector("[data-score]")) throw new Error("no score");
  } catch {
    location.assign(link.href);
    return;
  }
  const score = document.querySelector("[data-score]");
  score.replaceWith(document.importNode(fresh.querySelector("[data-score]"), true));
  for (const other of document.querySelectorAll("[data-labels]")) {
    if (other.dataset.labels === link.dataset.labels) other.setAttribute("aria-current", "true");
    else other.removeAttribute("aria-current");
  }
  address.hash = "";
  history.replaceState(null, "", address);
  makeReachable();
  const place = document.querySelector("[data-score-place]");
  link.closest("[data-rows]").querySelector("[data-row-state]").textContent = `Now ${link.textContent}`;
  if (place.getBoundingClientRect().bottom < 80) place.scrollIntoView({ block: "start" });
});
