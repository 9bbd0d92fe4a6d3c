// A document of blocks drawn into the page: words, swatches, lists and tables.

import { patch } from "./colour.js";
import { el, scrolling } from "./dom.js";

/** Words with swatches among them. */
function line(parts) {
  return parts.map((part) => (typeof part === "string" ? part
    : el("span", { class: "named" }, patch(part.hex, "small"), el("span", {}, part.words))));
}

function table({ head, table: rows }, words) {
  return scrolling(words, el("table", {},
    el("thead", {}, el("tr", {}, head.map((one) => el("th", { scope: "col" }, one)))),
    el("tbody", {}, rows.map((row) => el("tr", {}, row.map((cell) => el("td", {}, line(cell))))))));
}

function block(one) {
  if (one.table) return table(one, one.head.filter(Boolean).join(", "));
  if (one.items) return el("ul", { class: "notes" }, one.items.map((parts) => el("li", {}, line(parts))));
  if (one.heading) return el("h3", {}, one.heading);
  if (one.note) return el("p", { class: "hint" }, line(one.note));
  return one.words ? el("p", {}, line(one.words)) : null;
}

/** The whole answer: its sentence first, cautions and sources last. */
export function drawDocument(found) {
  const { cautions, sources, confidence } = found;
  return [el("p", { class: "lead" }, line(found.headline)), ...found.blocks.map(block),
    cautions.length ? el("details", { class: "caution" }, el("summary", {}, cautions.length === 1 ? "A caution" : `${cautions.length} cautions`),
      el("ul", { class: "notes" }, cautions.map((words) => el("li", {}, words)))) : null,
    confidence.length || sources.length ? el("details", {}, el("summary", {}, "What this rests on"), ...confidence.map(block),
      sources.length ? el("p", { class: "hint" }, `Optical data: ${sources.join(", ")}.`) : null) : null];
}

/** The first words of an answer, for a line. */
export function headlineOf(found) {
  return found.headline.map((part) => (typeof part === "string" ? part : part.words)).join("");
}
