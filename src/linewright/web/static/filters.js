// Choosing a filter is enough: the list follows without pressing Search.
const form = document.querySelector("[data-filters]");
form?.addEventListener("change", (event) => {
  if (event.target.matches("select")) form.requestSubmit();
});
// Empty fields stay out of the address.
form?.addEventListener("formdata", (event) => {
  for (const [name, value] of [...event.formData]) {
    if (value === "" || (name === "sort" && value === "newest")) event.formData.delete(name);
  }
});
// Where there is room the filters stand open.
const details = form?.querySelector("details");
if (details && matchMedia("(min-width: 44rem)").matches) details.open = true;
