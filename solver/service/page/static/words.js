// Figures and states in words, as the server says them too.

const pointStates = {
  waiting: "waiting",
  solving: "being solved",
  solved: "proven",
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

/** A lower bound in percent, cut off as the server cuts it, since more is not proven; a dash where there is none. */
export function atLeast(bound) {
  if (bound === null) return "–";
  const exact = 70; // digits: as many as a number of 0.001 or more can have behind the point, and far more than are shown
  if (bound === 0 || bound >= 0.001) return bound.toFixed(exact).slice(0, 4 - exact);
  const [digits, power] = bound.toExponential(exact).split("e-");
  return `${digits.slice(0, 4)}e-${power}`;
}

/** The least error that is known of a job, of what is under way too; null where there is none. */
export function leastOf(job) {
  const known = [job.best_worst_error_pct, job.found_worst_error_pct].filter((one) => one !== null);
  return known.length ? Math.min(...known) : null;
}

/** A time in seconds, as the server says it. */
export function secondsWords(seconds) {
  if (seconds < 9.95) return `${seconds.toFixed(1)} s`;
  const whole = Math.round(seconds);
  if (whole < 60) return `${whole} s`;
  if (whole < 3600) return `${Math.floor(whole / 60)} min ${whole % 60} s`;
  return `${Math.floor(whole / 3600)} h ${Math.floor((whole % 3600) / 60)} min`;
}

/** How many points are in each state, those that are empty left out. */
export function pointsWords(points, total) {
  const said = Object.entries(pointStates)
    .filter(([state]) => points[state])
    .map(([state, word]) => `${points[state]} ${word}`);
  const all = `${total} point${total === 1 ? "" : "s"}`;
  return `${said.length ? `${all}: ${said.join(", ")}` : all}.`;
}

/** Degrees to a tenth, with a true minus sign and no minus zero. */
export function degrees(value) {
  const text = (Math.round(Math.abs(value) * 10) / 10).toFixed(1);
  return `${value < 0 && text !== "0.0" ? "−" : ""}${text}°`;
}
