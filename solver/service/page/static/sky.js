// Where the bodies are in the sky at any moment, from what the server told of one; and asking it for others.

const DAY = 86_400_000;
const whole = (turns) => turns - Math.floor(turns);
const short = (turns) => turns - Math.round(turns);

/** What the server told of one moment. Times are TT days since J2000.0, places are turns from the right. */
export class Sky {
  constructor(told) {
    this.take(told);
  }

  take(told) {
    this.told = told;
    this.bodies = new Map(told.bodies.map((body) => [String(body.ring), body]));
    // A leap second is shown as the one before it. TT less UTC is taken to stay what it is at this moment.
    this.utc = Date.parse(told.date_utc.replace(":60", ":59"));
  }

  /** The mean place, by the even rate of the sky. */
  mean(ring, days) {
    const body = this.bodies.get(ring);
    return whole(body.turns + body.rate_float * (days - this.told.days_float));
  }

  /** How far the true place is ahead of the mean one; as in the body's turn that the server told of. Null: not known. */
  ahead(ring, days) {
    const { ahead_turns: ahead, rate_float: rate } = this.bodies.get(ring);
    if (!ahead.length) return null;
    const at = whole(Math.abs(rate) * (days - this.told.days_float) + 0.5) * ahead.length;
    const before = Math.floor(at) % ahead.length;
    const part = at - Math.floor(at);
    return ahead[before] * (1 - part) + ahead[(before + 1) % ahead.length] * part;
  }

  /** How far a place is from this moment's mean place, the short way round. */
  strayed(ring, place) {
    return short(this.bodies.get(ring).turns - place);
  }

  /** Milliseconds of the browser's clock at a moment, and back. */
  clock(days) {
    return this.utc + (days - this.told.days_float) * DAY;
  }

  days(clock) {
    return this.told.days_float + (clock - this.utc) / DAY;
  }

  /** A moment as the server reads it, to the second; "" beyond the years that are written so. */
  iso(days) {
    const at = new Date(Math.round(this.clock(days) / 1000) * 1000);
    const text = Number.isNaN(at.getTime()) ? "" : at.toISOString();
    return /^\d{4}-/.test(text) ? text.replace(".000Z", "Z") : "";
  }

  /** The same for people, to the minute. */
  text(days) {
    const iso = this.iso(days);
    return iso ? `${iso.slice(0, 16).replace("T", " ")} UTC` : "beyond the calendar";
  }
}

/** Ask the server. Returns {ok, body}; throws where it cannot be reached. words: what is asked, empty ones left out. */
export async function asked(address, words, signal) {
  const query = new URLSearchParams(Object.entries(words).filter(([, value]) => value));
  const answer = await fetch(`${address}?${query}`, { headers: { Accept: "application/json" }, signal });
  const body = await answer.json().catch(() => ({ detail: `the service answered with status ${answer.status}` }));
  return { ok: answer.ok, body };
}

const WRITTEN = /^(\d{4})-(\d\d)-(\d\d)(T\d\d:\d\d(:\d\d)?(Z|[+-]\d\d:\d\d)?)?$/;

/** Milliseconds of the browser's clock at a date as it is typed, without the server; null where it is none. */
export function typed(text) {
  const [found, year, month, day, time, , zone] = WRITTEN.exec(text) ?? [];
  if (!found || new Date(Date.UTC(year, month - 1, day)).getUTCDate() !== Number(day)) return null;
  const at = Date.parse(time && !zone ? `${found}Z` : found);
  return Number.isNaN(at) ? null : at;
}
