// A button beside each rule puts the plan's own value back; saving is still to be done.

for (const button of document.querySelectorAll("[data-own]")) {
  const input = document.getElementById(button.dataset.for);
  // Not hidden while it has the focus: a keyboard would lose its place.
  const show = () => (button.hidden = input.value.trim() === button.dataset.own && document.activeElement !== button);
  button.addEventListener("click", () => {
    input.value = button.dataset.own;
    input.dispatchEvent(new Event("input", { bubbles: true }));
    input.focus();
    show();
  });
  input.addEventListener("input", show);
  input.addEventListener("change", show);
  show();
}
