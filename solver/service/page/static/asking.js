// Sending a design: to be checked, or to be solved. Answers are told apart by what they mean.

/**
 * Post a text. Returns {ok, status, body}; body is the JSON document, a problem document where ok is false.
 * Throws where the service cannot be reached.
 */
async function post(address, text, type, signal) {
  const answer = await fetch(address, {
    method: "POST",
    headers: { "Content-Type": type, Accept: "application/json" },
    body: text,
    signal,
  });
  const body = await answer.json().catch(() => ({ detail: `the service answered with status ${answer.status}` }));
  return { ok: answer.ok, status: answer.status, body };
}

const typeOf = (text) => (text.trimStart().startsWith("{") ? "application/json" : "application/toml");

/** What is wrong, in lines, with the field of each where it has one. */
export function faultsOf(body) {
  const errors = body.errors ?? [];
  if (!errors.length) return [body.detail ?? body.title ?? "this did not work"];
  return errors.map(
    (one) => `${one.field}${one.value ? ` = ${one.value}` : ""}${one.field || one.value ? ": " : ""}${one.message}`,
  );
}

/** Have texts checked, at most one at a time: a newer one takes the place of one that is under way. */
export class Checking {
  #timer = 0;
  #control = null;
  #address;
  #type;

  /** address: where they are sent; type: their media type, told from the text unless given. */
  constructor(address = "/api/validate", type = "") {
    this.#address = address;
    this.#type = type;
  }

  /** Check a text, a moment after the last call. done(answer), failed(): not reached. */
  soon(text, done, failed, wait = 250) {
    this.stop();
    this.#timer = setTimeout(() => this.now(text, done, failed), wait);
  }

  async now(text, done, failed) {
    clearTimeout(this.#timer);
    this.#control?.abort();
    this.#control = new AbortController();
    try {
      done(await post(this.#address, text, this.#type || typeOf(text), this.#control.signal));
    } catch (fault) {
      if (fault.name !== "AbortError") failed();
    }
  }

  /** Check nothing any more. */
  stop() {
    clearTimeout(this.#timer);
    this.#control?.abort();
  }
}

/** Submit a text; where it is taken, its job's page is opened. refused(body): it was not. */
export async function submit(text, refused) {
  try {
    const answer = await post("/api/jobs", text, typeOf(text));
    if (answer.ok) location.assign(`/jobs/${answer.body.id}`);
    else refused(answer.body);
  } catch {
    refused({ detail: "the service cannot be reached; nothing was submitted" });
  }
}
