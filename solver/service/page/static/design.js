// The form as it is sent: which fields count, where a fault of one is said, and its answer from the server, which alone
// knows what the fields mean.

/** Whether a field counts, given what is chosen in the field that decides. */
export function counts(holder, form) {
  if (!holder?.dataset.onlyIf) return true;
  const decides = form.querySelector(`[data-field="${holder.dataset.onlyIf}"]`);
  return holder.dataset.onlyValues.split(" ").includes(decides.value);
}

/** What a browser would send of a form, and more. */
export function sent(form, more = {}) {
  const fields = new URLSearchParams(new FormData(form));
  for (const [name, value] of Object.entries(more)) fields.set(name, value);
  return fields;
}

/** Say every fault beside its field. faults: [{at, label, text}]. Returns the first field that is wrong. */
export function showFaults(form, faults) {
  clearFaults(form);
  let first = null;
  for (const { at, text } of faults) {
    const place = at ? form.querySelector(`[data-error="${at}"]`) : null;
    if (!place) continue;
    place.textContent = place.textContent ? `${place.textContent}; ${text}` : text;
    const field = form.querySelector(`[data-field="${at}"]`);
    field.setAttribute("aria-invalid", "true");
    if (!first || field.compareDocumentPosition(first) & Node.DOCUMENT_POSITION_FOLLOWING) first = field;
  }
  return first;
}

export function clearFaults(form) {
  for (const place of form.querySelectorAll("[data-error]")) place.textContent = "";
  for (const field of form.querySelectorAll("[aria-invalid]")) field.removeAttribute("aria-invalid");
}

/** Bring a field into view, also where it is folded away, and the focus into it. */
export function goTo(field) {
  for (let fold = field.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
  field.focus();
}

/** A page as the server answers it to these fields. Throws where it cannot be reached, or says why it has none. */
export async function answered(fields) {
  const answer = await fetch("/", { method: "POST", body: fields, headers: { Accept: "text/html" } });
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  if (!page.getElementById("design")) throw new Error(`the service answered with status ${answer.status}`);
  return page;
}

/** Put the children of a page's element of that id in the place of ours; what has the focus keeps it, and what is
 * unfolded stays so. */
export function takeOver(page, id) {
  const ours = document.getElementById(id);
  const focused = ours.contains(document.activeElement) ? document.activeElement.id : "";
  const title = (fold) => fold.querySelector("summary").textContent;
  const open = new Set([...ours.querySelectorAll("details[open]")].map(title));
  ours.replaceChildren(...document.adoptNode(page.getElementById(id)).childNodes);
  for (const fold of ours.querySelectorAll("details")) fold.open ||= open.has(title(fold));
  if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
}
