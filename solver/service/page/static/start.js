// The first page: the form that shows the design file it makes, the box for a whole file, and the live list of jobs.

import { Checking, faultsOf, submit } from "./asking.js";
import { counts, designOf, errorPlace, tomlOf } from "./design.js";
import { keep, putBack } from "./keep.js";
import { liveList } from "./list.js";

const form = document.getElementById("design");
const file = document.getElementById("file");
const state = document.getElementById("file-state");
const faultList = document.getElementById("file-faults");
const refused = document.getElementById("design-refused");
const checking = new Checking();

/** The file that the form makes. What is shown is what is checked, and what is sent. */
function textOf() {
  const text = tomlOf(designOf(form));
  if (file.textContent !== text) {
    file.textContent = text;
    state.classList.add("stale");
  }
  return text;
}

function arrange() {
  for (const holder of form.querySelectorAll("[data-only-if]")) holder.hidden = !counts(holder, form);
  const chosen = form.querySelector('[data-field="bodies.set"]').value;
  for (const set of form.querySelectorAll("[data-set]")) set.hidden = set.dataset.set !== chosen;
  const unit = form.querySelector('[data-field="units"]').value;
  for (const place of form.querySelectorAll("[data-unit]")) place.textContent = unit;
}

function clear() {
  for (const place of form.querySelectorAll("[data-error]")) place.textContent = "";
  for (const field of form.querySelectorAll("[aria-invalid]")) field.removeAttribute("aria-invalid");
  faultList.replaceChildren();
}

/** Say every fault beside its field, and those without one beside the file. Returns the first field that is wrong. */
function showFaults(body) {
  clear();
  let first = null;
  for (const fault of faultsOf(body)) {
    const place = fault.field ? errorPlace(form, fault.field) : null;
    if (!place) {
      const line = document.createElement("li");
      line.textContent = fault.text;
      faultList.append(line);
      continue;
    }
    place.textContent = place.textContent ? `${place.textContent}; ${fault.short}` : fault.short;
    for (const field of form.querySelectorAll("input, select, fieldset")) {
      if (!field.getAttribute("aria-describedby")?.split(" ").includes(place.id)) continue;
      if (field.matches("fieldset")) continue;
      field.setAttribute("aria-invalid", "true");
      first ??= field;
    }
  }
  return first;
}

function say(text, wrong) {
  if (state.textContent !== text) state.textContent = text;
  state.classList.remove("stale");
  state.classList.toggle("wrong", wrong);
}

function checked(answer) {
  if (answer.ok) {
    clear();
    say(answer.body.places ? "This can be submitted." : "This can be submitted. It chooses no places.", false);
    return;
  }
  showFaults(answer.body);
  const many = faultsOf(answer.body).length;
  say(`${many} ${many === 1 ? "thing is" : "things are"} wrong; it cannot be submitted yet.`, true);
}

const unreached = () => say("The service cannot be reached; what is typed is not checked.", true);

form.addEventListener("input", () => {
  arrange();
  const text = textOf();
  checking.soon(text, checked, unreached);
});

form.addEventListener("reset", () => {
  refused.textContent = "";
  setTimeout(() => form.dispatchEvent(new Event("input"))); // the fields are reset after this event
});

form.addEventListener("submit", (event) => {
  event.preventDefault();
  checking.stop();
  refused.textContent = "";
  submit(textOf(), (body) => {
    const field = showFaults(body);
    const many = faultsOf(body);
    refused.textContent = body.errors?.length
      ? `Not submitted: ${many.length === 1 ? "one thing is" : `${many.length} things are`} wrong. ${many[0].text}`
      : `Not submitted: ${many[0].text}`;
    field?.focus();
  });
});

// -- a whole file ------------------------------------------------------------------------------------------------------

const paste = document.getElementById("paste");
const box = document.getElementById("text");
const boxErrors = document.getElementById("e-text");
const boxState = document.getElementById("text-state");
const boxRefused = document.getElementById("paste-refused");
const reading = new Checking();

function showBoxFaults(body) {
  const list = document.createElement("ul");
  list.className = "faults";
  for (const fault of faultsOf(body)) {
    const line = document.createElement("li");
    line.textContent = fault.text;
    list.append(line);
  }
  boxErrors.replaceChildren(list);
  box.setAttribute("aria-invalid", "true");
}

function readBox(answer) {
  if (answer.ok) {
    boxErrors.replaceChildren();
    box.removeAttribute("aria-invalid");
    const { kind, points } = answer.body;
    boxState.textContent = `A ${kind}${kind === "sweep" ? ` with ${points} point${points === 1 ? "" : "s"}` : ""}; it can be submitted.`;
    return;
  }
  showBoxFaults(answer.body);
  boxState.textContent = "It cannot be submitted yet.";
}

let boxRead = box.defaultValue; // what stands there at first was judged by the server

function boxTyped() {
  boxRead = box.value;
  boxState.textContent = "";
  if (box.value.trim() === "") {
    reading.stop();
    boxErrors.replaceChildren();
    box.removeAttribute("aria-invalid");
    return;
  }
  reading.soon(box.value, readBox, () => { boxState.textContent = "The service cannot be reached."; }, 400);
}

box.addEventListener("input", boxTyped);

paste.addEventListener("submit", (event) => {
  event.preventDefault();
  reading.stop();
  boxRefused.textContent = "";
  submit(box.value, (body) => {
    showBoxFaults(body);
    boxRefused.textContent = "Not submitted.";
    box.focus();
  });
});

document.getElementById("take").addEventListener("click", () => {
  box.value = file.textContent;
  box.dispatchEvent(new Event("input", { bubbles: true }));
  box.focus();
  box.scrollIntoView({ block: "center" });
});

/** Show what the fields hold, whoever has put it there. */
function settle() {
  arrange();
  const before = file.textContent;
  const text = textOf();
  if (text !== before) checking.now(text, checked, unreached);
  if (box.value !== boxRead) boxTyped();
}

for (const one of [form, paste]) putBack(one);
settle();
for (const one of [form, paste]) keep(one);
// A browser that puts values back by itself has done so by now, also one that has kept the whole page.
window.addEventListener("pageshow", settle);
liveList();
