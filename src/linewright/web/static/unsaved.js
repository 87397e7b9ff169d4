// Ask before typed work is lost: by leaving the page, or by saving one form of it and not the other.

const forms = [...document.querySelectorAll("form[method=post]")];
const before = new Map(forms.map((form) => [form, said(form)]));
let sending = null;

function said(form) {
  return JSON.stringify([...new FormData(form)].filter(([, value]) => typeof value === "string"));
}

function changed(form) {
  return before.get(form) !== said(form);
}

for (const form of forms) {
  form.addEventListener("submit", (event) => {
    const other = forms.find((one) => one !== form && changed(one));
    const heading = other?.closest("section")?.querySelector("h2")?.textContent;
    const ask = `What you changed under “${heading}” is not saved by this button. Go on without it?`;
    if (other && !window.confirm(ask)) {
      event.preventDefault();
      event.stopImmediatePropagation();
      other.scrollIntoView({ block: "center" });
      return;
    }
    sending = form;
  }, { capture: true });
}

window.addEventListener("beforeunload", (event) => {
  if (sending === null && forms.some(changed)) event.preventDefault();
});

// Coming back to the page by the browser's own button starts afresh.
window.addEventListener("pageshow", () => { sending = null; });
