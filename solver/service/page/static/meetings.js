// When two bodies meet: asked of the server, told in a table.

import { asked } from "./sky.js";

const BEFORE = "–";

/** The panel. dating: the model's dates. */
export function meetings(place, dating) {
  const [one, other, button, fault, said, table] = ["meet-a", "meet-b", "meet", "e-meet", "met", "meet-table"].map((id) =>
    document.getElementById(id),
  );
  const rows = table.querySelector("tbody");

  button.addEventListener("click", async () => {
    fault.textContent = said.textContent = "";
    const { set, shown } = dating.dates;
    try {
      const words = { a: one.value, b: other.value, after: shown, set };
      const { ok, body } = await asked(`${place.dataset.address}/meetings`, words);
      table.hidden = !ok || !body.meetings.length;
      if (ok) tell(body);
      else fault.textContent = body.detail;
    } catch {
      fault.textContent = "the service cannot be reached";
    }
  });

  function tell(body) {
    rows.replaceChildren(...body.meetings.map(row));
    const count = body.meetings.length;
    const first = body.meetings[0];
    const words = `${count} ${body.word}${count === 1 ? "" : "s"} of ${body.a} and ${body.b}`;
    const when = first && date(first.true_utc ?? first.mean_utc);
    said.textContent = first ? `${words}, the first on ${when}.` : `No ${body.word} is known after this date: the sources end before.`;
    if (body.why) said.textContent += ` ${body.why[0].toUpperCase()}${body.why.slice(1)}.`;
  }
}

function row(met, index) {
  const made = document.createElement("tr");
  const head = document.createElement("th");
  head.scope = "row";
  head.className = "number";
  head.textContent = String(index + 1);
  const late = met.model_late_days === null ? BEFORE : days(met.model_late_days);
  const cells = [date(met.true_utc), date(met.mean_utc), date(met.model_utc), late].map((text, column) => {
    const cell = document.createElement("td");
    cell.className = column === 3 ? "number" : "figure";
    cell.textContent = text;
    return cell;
  });
  made.append(head, ...cells);
  return made;
}

/** A moment to the minute. */
const date = (utc) => (utc ? utc.slice(0, 16).replace("T", " ") : BEFORE);

/** Days with a sign, and fine where they are few. */
function days(count) {
  const text = Math.abs(count).toFixed(Math.abs(count) < 10 ? 3 : 1);
  return `${Number(text) === 0 ? "" : count < 0 ? "−" : "+"}${text} days`;
}
