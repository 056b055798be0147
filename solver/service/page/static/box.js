// The box for a whole file: checked while it is typed, submitted, or put into the form; files are chosen or dropped.

import { Checking, faultsOf, submit } from "./asking.js";

const MOST = 1_000_000; // bytes of a file; a design file has a few thousand

/** Begin. fill(text): puts it into the form. Returns what looks at the box anew, whoever has changed it. */
export function wholeFile(fill) {
  const paste = document.getElementById("paste");
  const box = document.getElementById("text");
  const errors = document.getElementById("e-text");
  const state = document.getElementById("text-state");
  const refused = document.getElementById("paste-refused");
  const reading = new Checking();

  function showFaults(body) {
    const list = document.createElement("ul");
    list.className = "faults";
    for (const fault of faultsOf(body)) {
      const line = document.createElement("li");
      line.textContent = fault;
      list.append(line);
    }
    errors.replaceChildren(list);
    box.setAttribute("aria-invalid", "true");
  }

  function clear() {
    errors.replaceChildren();
    box.removeAttribute("aria-invalid");
  }

  function read(answer) {
    if (answer.ok) {
      clear();
      const { kind, points } = answer.body;
      state.textContent = `A ${kind}${kind === "sweep" ? ` with ${points} point${points === 1 ? "" : "s"}` : ""}; it can be submitted.`;
      return;
    }
    showFaults(answer.body);
    state.textContent = "It cannot be submitted yet.";
  }

  let seen = box.defaultValue; // what stands there at first was judged by the server

  function typed() {
    seen = box.value;
    state.textContent = "";
    if (box.value.trim() === "") {
      reading.stop();
      clear();
      return;
    }
    reading.soon(box.value, read, () => { state.textContent = "The service cannot be reached."; }, 400);
  }

  async function take(file) {
    if (file.size > MOST) {
      refused.textContent = `${file.name} is larger than ${MOST} bytes; a design file has a few thousand.`;
      return;
    }
    box.value = await file.text();
    box.dispatchEvent(new Event("input", { bubbles: true }));
    await fill(box.value);
  }

  box.addEventListener("input", typed);
  paste.addEventListener("submit", async (event) => {
    event.preventDefault();
    refused.textContent = "";
    if (event.submitter?.value === "fill") {
      await fill(box.value);
      return;
    }
    reading.stop();
    submit(box.value, (body) => {
      showFaults(body);
      refused.textContent = "Not submitted.";
      box.focus();
    });
  });

  const upload = document.getElementById("upload");
  document.getElementById("upload-place").hidden = false;
  upload.addEventListener("change", () => {
    if (upload.files.length) take(upload.files[0]);
    upload.value = ""; // so that the same file can be chosen again
  });
  const whole = document.getElementById("whole");
  whole.addEventListener("dragover", (event) => {
    if (!event.dataTransfer.types.includes("Files")) return;
    event.preventDefault();
    whole.classList.add("dropping");
  });
  whole.addEventListener("dragleave", () => whole.classList.remove("dropping"));
  whole.addEventListener("drop", (event) => {
    whole.classList.remove("dropping");
    if (!event.dataTransfer.files.length) return;
    event.preventDefault();
    take(event.dataTransfer.files[0]);
  });

  return () => { if (box.value !== seen) typed(); };
}
