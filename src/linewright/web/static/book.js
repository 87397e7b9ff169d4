// A tune book on the page: narrow the tunes by their titles, tick all that are shown or none.
const form = document.querySelector("[data-book]");
const list = form.querySelector(".tunes");
const rows = [...list.querySelectorAll(".choice")];

const bar = document.createElement("p");
bar.className = "actions";
const label = document.createElement("label");
label.textContent = "Title has ";
const words = document.createElement("input");
words.type = "search";
label.append(words);
const count = document.createElement("span");
count.className = "small";
count.setAttribute("role", "status");

function button(text, action) {
  const made = document.createElement("button");
  made.type = "button";
  made.textContent = text;
  made.addEventListener("click", action);
  return made;
}

function tick(value) {
  for (const row of rows) if (!row.hidden) row.querySelector("input").checked = value;
  tell();
}

function tell() {
  const ticked = rows.filter((row) => row.querySelector("input").checked).length;
  count.textContent = `${ticked} chosen`;
}

words.addEventListener("input", () => {
  const wanted = words.value.toLowerCase();
  for (const row of rows) row.hidden = !row.textContent.toLowerCase().includes(wanted);
});
words.addEventListener("keydown", (event) => {
  if (event.key === "Enter") event.preventDefault();
});
list.addEventListener("change", tell);
bar.append(label, button("Tick these", () => tick(true)), button("Untick these", () => tick(false)), count);
list.before(bar);
tell();
