// The first page: the form that shows the design file it makes, the box for a whole file, and the live list of jobs.

import { Checking, submit } from "./asking.js";
import { wholeFile } from "./box.js";
import { answered, clearFaults, counts, goTo, sent, showFaults, takeOver } from "./design.js";
import { keep, putBack, wasHere } from "./keep.js";
import { linked, linkedText, linkTo } from "./link.js";
import { liveList } from "./list.js";

const form = document.getElementById("design");
const file = document.getElementById("file");
const state = document.getElementById("file-state");
const faultList = document.getElementById("file-faults");
const checking = new Checking("/form", "application/x-www-form-urlencoded");
const field = (path) => form.querySelector(`[data-field="${path}"]`);
const refused = () => document.getElementById("design-refused");

function arrange() {
  for (const holder of form.querySelectorAll("[data-only-if]")) holder.hidden = !counts(holder, form);
  const chosen = field("bodies.set").value;
  for (const set of form.querySelectorAll("[data-set]")) set.hidden = set.dataset.set !== chosen;
  for (const place of form.querySelectorAll("[data-unit]")) place.textContent = field("units").value;
}

function say(text, wrong) {
  if (state.textContent !== text) state.textContent = text;
  state.classList.remove("stale");
  state.classList.toggle("wrong", wrong);
}

const unreached = () => say("The service cannot be reached; what is typed is not checked.", true);

/** Show what the server says of the form: its file, and what is wrong. Returns the first field that is wrong. */
function told({ ok, body }) {
  if (!ok) {
    say(body.detail ?? "this did not work", true);
    return null;
  }
  if (file.textContent !== body.text) file.textContent = body.text;
  clearFaults(form);
  const first = showFaults(form, body.faults);
  faultList.replaceChildren(...body.faults.filter(({ at }) => !at).map(({ text }) => {
    const line = document.createElement("li");
    line.textContent = text;
    return line;
  }));
  say(body.state, body.faults.length > 0);
  return first;
}

let last = ""; // what was sent to be checked

function look(soon = true) {
  arrange();
  const fields = sent(form).toString();
  if (fields === last) return;
  last = fields;
  state.classList.add("stale");
  if (soon) checking.soon(fields, told, unreached);
  else checking.now(fields, told, unreached);
}

// -- the form filled anew ----------------------------------------------------------------------------------------------

let typed = 0; // how often something was typed

/** Have the server fill the form. more: what is sent beside its fields; or of a text, instead of them. */
async function filled(more, text = null) {
  let page, before;
  do {
    before = typed;
    page = await answered(text === null ? sent(form, more) : new URLSearchParams({ action: "fill", text }));
  } while (before !== typed && text === null);
  takeOver(page, "e-text");
  const wrong = page.getElementById("text").getAttribute("aria-invalid") === "true";
  if (text !== null && wrong) {
    document.getElementById("text").setAttribute("aria-invalid", "true");
    return false;
  }
  takeOver(page, "design");
  document.getElementById("heard").textContent = document.getElementById("form-said").textContent.trim();
  form.dispatchEvent(new Event("input"));
  return true;
}

const unfilled = (fault) => { refused().textContent = `The form cannot be filled: ${fault.message}.`; };

async function fill(text) {
  try {
    if (await filled({}, text)) {
      document.getElementById("design-head").scrollIntoView();
      field("title").focus({ preventScroll: true });
      return;
    }
    document.getElementById("text").value = text;
    document.getElementById("text").focus();
  } catch (fault) {
    unfilled(fault);
  }
}

form.addEventListener("input", () => {
  typed += 1;
  look();
});

form.addEventListener("change", (event) => {
  if (["bodies.set", "units"].includes(event.target.dataset.field)) filled({ action: "begin" }).catch(unfilled);
});

form.addEventListener("reset", async (event) => {
  event.preventDefault();
  try {
    const answer = await fetch(location.pathname + location.search, { headers: { Accept: "text/html" } });
    takeOver(new DOMParser().parseFromString(await answer.text(), "text/html"), "design");
    form.dispatchEvent(new Event("input"));
  } catch (fault) {
    unfilled(fault);
  }
});

// -- submitting --------------------------------------------------------------------------------------------------------

function refuse(faults) {
  const list = document.createElement("ul");
  for (const { at, label, text } of faults) {
    const line = document.createElement("li");
    if (at) {
      const link = document.createElement("a");
      link.href = `#f-${at}`;
      link.textContent = label;
      line.append(link, `: ${text}`);
    } else line.textContent = text;
    list.append(line);
  }
  const many = faults.length === 1 ? "one thing is" : `${faults.length} things are`;
  refused().replaceChildren(`Not submitted: ${many} wrong.`, list);
}

form.addEventListener("submit", async (event) => {
  const action = event.submitter?.value ?? "design";
  if (action === "file") return; // what comes is saved by the browser, and the page stays
  event.preventDefault();
  if (action === "anew") {
    filled({ action }).then(() => document.getElementById("form-said").scrollIntoView({ block: "nearest" }), unfilled);
    return;
  }
  refused().textContent = "";
  let answer = null;
  last = sent(form).toString();
  await checking.now(last, (found) => { answer = found; }, () => {});
  if (!answer?.ok) {
    refused().textContent = `Not submitted: ${answer?.body.detail ?? "the service cannot be reached"}`;
    return;
  }
  const first = told(answer);
  if (answer.body.faults.length) {
    refuse(answer.body.faults);
    if (first) goTo(first);
    return;
  }
  submit(answer.body.text, (body) => { refused().textContent = `Not submitted: ${body.detail ?? body.title}`; });
});

form.addEventListener("click", (event) => {
  const to = event.target.closest('a[href^="#f-"]');
  const aim = to && document.getElementById(to.hash.slice(1));
  if (!aim) return;
  event.preventDefault();
  goTo(aim);
});

// -- a whole file, and a link ------------------------------------------------------------------------------------------

const lookAtBox = wholeFile(fill);

const take = document.getElementById("take");
take.hidden = false;
take.addEventListener("click", () => {
  const box = document.getElementById("text");
  box.value = file.textContent;
  box.dispatchEvent(new Event("input", { bubbles: true }));
  box.focus();
  box.scrollIntoView({ block: "center" });
});

const link = document.getElementById("link");
const linkSaid = document.getElementById("link-said");
link.hidden = false;
link.addEventListener("click", async () => {
  const address = await linkTo(file.textContent);
  try {
    await navigator.clipboard.writeText(address);
    linkSaid.textContent = "Copied. Who opens the link has this design in the form; nothing of it is sent anywhere else.";
  } catch {
    const shown = document.createElement("a"); // not allowed, or an address without TLS
    shown.href = address;
    shown.textContent = "this link";
    linkSaid.replaceChildren("Copy the address of ", shown, ".");
  }
});

async function openLink() {
  if (!linked()) return;
  try {
    const text = await linkedText();
    history.replaceState(history.state, "", "/");
    await fill(text);
  } catch {
    refused().textContent = "The design in this link is damaged, or too long; ask for its file.";
  }
}
window.addEventListener("hashchange", openLink);

// ----------------------------------------------------------------------------------------------------------------------

/** Show what the fields hold, whoever has put it there. */
function settle() {
  look(false);
  lookAtBox();
}

const paste = document.getElementById("paste");
const before = wasHere();
for (const one of [form, paste]) putBack(one);
settle();
for (const one of [form, paste]) keep(one);
if (!before) openLink();
// A browser that puts values back by itself has done so by now, also one that has kept the whole page.
window.addEventListener("pageshow", settle);
liveList();
