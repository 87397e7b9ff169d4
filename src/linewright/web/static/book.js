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

// With scripts the tunes come in a few at a time, and a bar shows how far it has got.
const BATCH = 8;
form.addEventListener("submit", async (event) => {
  const all = event.submitter?.name === "all";
  const numbers = rows
    .map((row) => row.querySelector("input"))
    .filter((box) => all || box.checked)
    .map((box) => box.value);
  if (numbers.length <= BATCH) return; // soon done: the plain form will do
  event.preventDefault();
  const fields = new FormData(form);
  const box = document.createElement("div");
  box.className = "notice";
  box.setAttribute("role", "status");
  const text = document.createElement("p");
  const meter = document.createElement("progress");
  meter.max = numbers.length;
  meter.value = 0;
  meter.setAttribute("aria-label", "Tunes brought in");
  box.append(text, meter);
  form.replaceWith(box);
  let kept = 0;
  const failures = [];
  for (let at = 0; at < numbers.length; at += BATCH) {
    text.textContent = `Bringing in ${at + 1} to ${Math.min(at + BATCH, numbers.length)} of ${numbers.length}`;
    const part = new FormData();
    for (const name of ["carried", "filename", "file_tonic", "style", "tags"]) part.set(name, fields.get(name));
    for (const number of numbers.slice(at, at + BATCH)) part.append("number", number);
    const answer = await send(part);
    if (answer.error) {
      text.textContent = `Stopped after ${kept} tunes: ${answer.error.message}`;
      box.classList.replace("notice", "problem");
      break;
    }
    kept += answer.kept.length;
    failures.push(...answer.failures);
    meter.value = Math.min(at + BATCH, numbers.length);
  }
  if (box.classList.contains("notice")) {
    meter.remove();
    const name = fields.get("filename");
    const verb = kept === 1 ? "tune" : "tunes";
    const failed = failures.length ? ` ${failures.length} could not be read.` : "";
    text.textContent = `${kept} ${verb} from ${name} ${kept === 1 ? "is" : "are"} in the library now.${failed}`;
  }
  const link = document.createElement("a");
  link.href = "/";
  link.textContent = "To the library";
  box.append(link);
  if (failures.length) box.after(report(failures));
});

async function send(part) {
  try {
    const response = await fetch("/api/files", { method: "POST", body: part });
    return await response.json();
  } catch {
    return { error: { message: "the server does not answer" } };
  }
}

function report(failures) {
  const list = document.createElement("ul");
  list.className = "failures";
  for (const failure of failures) {
    const item = document.createElement("li");
    item.textContent = `${failure.number}. ${failure.title || "Untitled"}: ${failure.error}`;
    list.append(item);
  }
  return list;
}
