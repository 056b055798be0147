// What is typed in a form, kept for this page's entry in the browser's history, so that it is there again after Back and
// after a reload. Browsers put some values back by themselves, others not, and some late: nothing is left to them.

const MOST = 20; // pages of a tab whose forms are kept
const KEY = "forms "; // before the name of a page, in the tab's own storage

/** The name of this entry of the history, given when it is first shown. */
function page() {
  const name = history.state?.page ?? `${Date.now()}-${Math.random()}`;
  if (history.state?.page !== name) history.replaceState({ ...history.state, page: name }, "");
  return KEY + name;
}

/** Every control of a form that holds something, and a name for it that lasts. */
function controls(form) {
  return [...form.elements]
    .filter((control) => control.matches("select, textarea, input:not([type=submit], [type=file])"))
    .map((control) => {
      const set = control.closest("[data-set]");
      return [control.dataset.field ?? (set ? `${set.dataset.set} ${control.value}` : control.name), control];
    });
}

const isBox = (control) => control.type === "checkbox";

function kept() {
  try {
    return JSON.parse(sessionStorage.getItem(page()) ?? "{}");
  } catch {
    return {}; // the browser keeps nothing for pages
  }
}

/** Whether this entry of the history was shown before. */
export const wasHere = () => Object.keys(kept()).length > 0;

/** Keep what a form holds, now and whenever that changes. */
export function keep(form) {
  function save() {
    const held = controls(form).map(([name, control]) => [name, isBox(control) ? control.checked : control.value]);
    const told = JSON.stringify({ ...kept(), [form.id]: Object.fromEntries(held) });
    try {
      const others = Object.keys(sessionStorage).filter((key) => key.startsWith(KEY) && key !== page()).sort();
      for (const old of others.slice(0, Math.max(others.length - MOST + 1, 0))) sessionStorage.removeItem(old);
      sessionStorage.setItem(page(), told);
    } catch {
      return; // too large, or nothing is kept: what was there before stays
    }
  }

  form.addEventListener("input", save);
  save();
}

/** Put back what was kept of a form here. */
export function putBack(form) {
  const held = kept()[form.id] ?? {};
  for (const [name, control] of controls(form)) {
    if (!(name in held)) continue;
    const before = control.value;
    if (isBox(control)) control.checked = held[name];
    else control.value = held[name];
    if (control.selectedIndex === -1) control.value = before; // there is no such choice any more
  }
}
