// Figures and states in words, as the server says them too.

export const states = {
  waiting: "waiting",
  solving: "being solved",
  complete: "complete",
  stopped: "stopped",
  failed: "failed",
};

const pointStates = {
  waiting: "waiting",
  solving: "being solved",
  solved: "solved",
  stopped: "stopped unproven",
  failed: "failed",
};

/** An error in percent with the figures that count; a dash where there is none. */
export function percent(value) {
  if (value === null || value === undefined) return "–";
  if (value === 0) return "0";
  const size = Math.abs(value);
  const text =
    size < 0.001 ? String(Number(size.toPrecision(2))) :
    size < 0.1 ? size.toFixed(5) :
    size < 10 ? size.toFixed(4) :
    size.toFixed(2);
  return (value < 0 ? "−" : "") + text;
}

/** How many points are in each state, those that are empty left out. */
export function pointsWords(points, total) {
  const said = Object.entries(pointStates)
    .filter(([state]) => points[state])
    .map(([state, word]) => `${points[state]} ${word}`);
  const all = `${total} point${total === 1 ? "" : "s"}`;
  return said.length ? `${all}: ${said.join(", ")}` : all;
}

/** Degrees to a tenth, with a true minus sign and no minus zero. */
export function degrees(value) {
  const text = (Math.round(Math.abs(value) * 10) / 10).toFixed(1);
  return `${value < 0 && text !== "0.0" ? "−" : ""}${text}°`;
}
