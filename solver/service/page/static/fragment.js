// Taking parts of a page anew from the server, so that there is one place where they are made.

/** Fetch a page and put its elements of these ids in the place of ours; what is open stays open. Returns the first of the
 * new elements, or null. */
export async function renew(address, ids, signal) {
  const answer = await fetch(address, { headers: { Accept: "text/html" }, signal });
  if (!answer.ok) return null;
  const text = await answer.text();
  const page = new DOMParser().parseFromString(text, "text/html");
  const made = [ids].flat().map((id) => replaced(page, id));
  return made[0];
}

function replaced(page, id) {
  const fresh = page.getElementById(id);
  const old = document.getElementById(id);
  if (!fresh || !old) return null;
  const focused = old.contains(document.activeElement) ? document.activeElement : null;
  const opened = [...old.querySelectorAll("details[id]")].filter((one) => one.open).map((one) => one.id);
  const made = document.adoptNode(fresh);
  old.replaceWith(made);
  for (const one of opened) {
    const again = document.getElementById(one);
    if (again) again.open = true;
  }
  const place = focused && (focused.id || focused.closest("details[id]")?.id);
  if (place) {
    const again = document.getElementById(place);
    (again?.matches("details") ? again.querySelector("summary") : again)?.focus({ preventScroll: true });
  }
  return made;
}
