// A person's own tables of index: opened here, sent along with each question that names one.

import { byId, el, fill } from "./dom.js";

const KEPT = "oxhue-tables"; // in this tab, so that a reload keeps them
const LONGEST = 200_000; // letters, as the server takes
const tables = new Map(Object.entries(JSON.parse(sessionStorage.getItem(KEPT) ?? "{}")));

/** The tables that a question names, by name; null where it names none. */
export function tablesNamed(fields) {
  if (!tables.size) return null;
  const text = JSON.stringify(fields);
  const named = [...tables].filter(([name]) => text.includes(`\\"${name}\\"`));
  return named.length ? Object.fromEntries(named) : null;
}

/** Set the panel up; `use(material)` puts one into the drawn stack. */
export function openTables(use) {
  const input = byId("look-table");
  const told = byId("look-tables-said");
  const keep = () => {
    sessionStorage.setItem(KEPT, JSON.stringify(Object.fromEntries(tables)));
    show(use, keep);
  };
  input.addEventListener("change", async () => {
    for (const file of input.files) {
      const text = await file.text();
      told.textContent = text.length > LONGEST ? `${file.name} is longer than ${LONGEST / 1000} thousand letters.` : "";
      if (text.length <= LONGEST) tables.set(plainName(file.name), text);
    }
    input.value = "";
    keep();
  });
  show(use, keep);
}

/** A file's name as a stack may hold it. */
function plainName(name) {
  return name.replace(/[^\p{L}\p{N}_.-]+/gu, "_").replace(/^\.+/, "").slice(-60) || "table";
}

function show(use, keep) {
  fill(byId("look-tables"), [...tables.keys()].map((name) => el("li", {},
    el("code", {}, `"${name}"`), el("button", { type: "button", class: "plain small", onclick: () => use(`"${name}"`) }, "Put on top"),
    el("button", { type: "button", class: "plain small", "aria-label": `Remove ${name}`, onclick: () => { tables.delete(name); keep(); byId("look-table").focus(); } }, "Remove"))));
  for (const name of tables.keys()) {
    const list = byId("materials");
    const value = `"${name}"`;
    if (![...list.options].some((one) => one.value === value)) list.append(el("option", { value }, "a table of your own"));
  }
}
