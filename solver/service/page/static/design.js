// From the form's fields to the design that they mean, as plain data, and from a fault's field path back to a field.

const WHOLE = /^[+-]?\d{1,15}$/;
const DECIMAL = /^[+-]?\d{1,9}\.\d{1,6}$/;
const SPAN = /^(\d+)\s*(?:to|-|–|\.\.)\s*(\d+)(?:\s*step\s*(\d+))?$/;

/** A number where the text is one that survives being one, else the text itself, which the server reads exactly. */
export function number(text) {
  const bare = text.trim();
  return WHOLE.test(bare) || DECIMAL.test(bare) ? Number(bare) : bare;
}

/** "24", "18, 24" or "18 to 60 step 6" as the design file says it; anything else as it is, for the server to refuse. */
export function span(text) {
  const bare = text.trim();
  const found = SPAN.exec(bare);
  if (found) {
    const range = { min: Number(found[1]), max: Number(found[2]) };
    if (found[3]) range.step = Number(found[3]);
    return range;
  }
  return bare.includes(",") ? bare.split(",").map(number) : number(bare);
}

/** Whether a field counts, given what is chosen in the field that decides. */
export function counts(holder, form) {
  if (!holder?.dataset.onlyIf) return true;
  const decides = form.querySelector(`[data-field="${holder.dataset.onlyIf}"]`);
  return holder.dataset.onlyValues.split(" ").includes(decides.value);
}

/** The design that the form means: tables and keys as in the file, empty fields left out. */
export function designOf(form) {
  const design = {};
  for (const field of form.querySelectorAll("[data-field]")) {
    if (!counts(field.closest("[data-only-if]"), form)) continue;
    if (field.type === "checkbox") {
      if (field.checked) put(design, field.dataset.field, ["error", "parts"]);
      continue;
    }
    const text = field.value.trim();
    if (text === "") continue;
    const kinds = { number, span, text: (value) => value };
    put(design, field.dataset.field, kinds[field.dataset.kind](text));
  }
  const boxes = [...form.querySelectorAll(`[data-set="${design.bodies.set}"] input`)];
  const only = boxes.filter((box) => box.checked).map((box) => box.value);
  if (only.length < boxes.length) design.bodies.only = only;
  return design;
}

/** The same as a design file: tables in the order of the form, what is no table in one line. */
export function tomlOf(design) {
  const lines = [];
  const tables = [];
  for (const [key, value] of Object.entries(design)) {
    if (isTable(value)) tables.push([key, value]);
    else lines.push(`${key} = ${said(value)}`);
  }
  for (const [name, table] of tables) {
    lines.push("", `[${name}]`);
    for (const [key, value] of Object.entries(table)) lines.push(`${key} = ${said(value)}`);
  }
  return `${lines.join("\n")}\n`;
}

const isTable = (value) => typeof value === "object" && !Array.isArray(value);

function said(value) {
  if (Array.isArray(value)) return `[${value.map(said).join(", ")}]`;
  if (isTable(value)) return `{${Object.entries(value).map(([key, one]) => `${key} = ${said(one)}`).join(", ")}}`;
  if (typeof value === "number") return String(value);
  return JSON.stringify(value).replace(/\u007f/g, "\\u007f");
}

function put(design, path, value) {
  const keys = path.split(".");
  const last = keys.pop();
  let table = design;
  for (const key of keys) table = table[key] ??= {};
  table[last] = value;
}

/** The element beside which a fault of that field is said: the field's own, or that of the nearest table above it. */
export function errorPlace(form, path) {
  let name = path.replace(/\[\d+\]/g, "");
  while (name) {
    const place = form.querySelector(`[data-error="${name}"]`);
    if (place && !place.closest("[hidden]")) return place;
    name = name.includes(".") ? name.slice(0, name.lastIndexOf(".")) : "";
  }
  return null;
}
