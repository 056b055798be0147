// Taking one part of a page anew from the server, so that there is one place where it is made.

/** Fetch a page and put its element of that id in the place of ours. Returns the new element, or null. */
export async function renew(address, id, signal) {
  const answer = await fetch(address, { headers: { Accept: "text/html" }, signal });
  if (!answer.ok) return null;
  const text = await answer.text();
  const fresh = new DOMParser().parseFromString(text, "text/html").getElementById(id);
  const old = document.getElementById(id);
  if (!fresh || !old) return null;
  const focused = old.contains(document.activeElement) ? document.activeElement.id : "";
  const made = document.adoptNode(fresh);
  old.replaceWith(made);
  if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
  return made;
}
