// A design in a link: behind the # of an address, which browsers send to nobody, packed where they can do that.

const MARK = "#design=";
const MOST = 60_000; // characters of a design, unpacked
const PACKED = "z.";

async function through(bytes, stream, most = Infinity) {
  const reader = new Blob([bytes]).stream().pipeThrough(stream).getReader();
  const parts = [];
  for (let size = 0; ; ) {
    const { done, value } = await reader.read();
    if (done) return new Uint8Array(await new Blob(parts).arrayBuffer());
    size += value.length;
    if (size > most) throw new Error("longer than a form takes");
    parts.push(value);
  }
}

/** The address of the first page with this design in it. */
export async function linkTo(text) {
  const start = `${location.origin}/${MARK}`;
  if (!globalThis.CompressionStream) return start + encodeURIComponent(text);
  const packed = await through(new TextEncoder().encode(text), new CompressionStream("deflate-raw"));
  const letters = btoa(String.fromCharCode(...packed)).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
  return start + PACKED + letters;
}

/** Whether the page was opened with a design in its address. */
export const linked = () => location.hash.startsWith(MARK);

/** That design as text. Throws where it is damaged, too long, or packed and cannot be unpacked here. */
export async function linkedText() {
  const told = location.hash.slice(MARK.length);
  if (!told.startsWith(PACKED)) return decodeURIComponent(told).slice(0, MOST + 1);
  const letters = atob(told.slice(PACKED.length).replaceAll("-", "+").replaceAll("_", "/"));
  const packed = Uint8Array.from(letters, (letter) => letter.charCodeAt(0));
  const text = await through(packed, new DecompressionStream("deflate-raw"), 4 * MOST);
  return new TextDecoder("utf-8", { fatal: true }).decode(text);
}
