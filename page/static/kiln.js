// A kiln of one's own: test pieces written down or opened from a file, learnt from, and kept.

import { ask, newest, teller, Refused } from "./ask.js";
import { colourField } from "./colour.js";
import { exportRow } from "./exports.js";
import { keepAlso } from "./keep.js";
import { reveal } from "./order.js";
import { byId, el, fill, scrolling, sentence } from "./dom.js";

const FIRST_ROWS = 3;
const MOST_ROWS = 24;
const LONGEST_FILE = 80_000; // what the server takes
const [OUTCOME, HEX, LAB] = [/^([\d.]+) *nm$/i, /^#[0-9a-f]{6}$/i, /^-?[\d.]+( *, *-?[\d.]+){2}$/];

let metalOf; // the metal chosen in the room
let changed; // called when the heats must be computed again
let told;
let held = null; // { metal, text } of the kiln that is used

/** Set the panel up. */
export function openKiln(metal, whenChanged) {
  [metalOf, changed, told] = [metal, whenChanged, teller(byId("kiln-status"))];
  for (let i = 0; i < FIRST_ROWS; i += 1) addRow();
  byId("kiln-more").addEventListener("click", () => addRow().querySelector("input").focus());
  byId("kiln-form").addEventListener("submit", (event) => {
    event.preventDefault();
    try {
      learn(written());
    } catch (error) {
      told.refused(error);
    }
  });
  byId("kiln-file").addEventListener("change", () => open(byId("kiln-file").files[0]));
  keepAlso("heat", { get: () => ({ pieces: heldPieces() }), set: takePieces });
}

/** The pieces written down, for the address: a line each, its parts between bars. */
function heldPieces() {
  const lines = [...byId("kiln-rows").children].map((row) => [...row.querySelectorAll("[data-part]")].map((one) => one.value.trim()));
  return lines.filter((parts) => parts.some(Boolean)).map((parts) => parts.join("|")).join("\n");
}

function takePieces(held) {
  const lines = (held.get("pieces") ?? "").split("\n").filter(Boolean).slice(0, MOST_ROWS);
  lines.forEach((line, i) => {
    const row = byId("kiln-rows").children[i] ?? addRow();
    const parts = line.split("|");
    row.querySelectorAll("[data-part]").forEach((one, k) => { one.value = parts[k] ?? ""; });
  });
}

/** The field of a question that a kiln answers for; nothing where it is of another metal. */
export function kilnFields() {
  return held && held.metal === metalOf().key ? { kiln: held.text } : {};
}

/** Say so where the kiln held is of another metal than the one chosen. */
export function metalChosen() {
  const other = held && held.metal !== metalOf().key;
  byId("kiln-other").textContent = other
    ? `This kiln is for ${held.name}; ${metalOf().name} uses the usual law.` : "";
}

function addRow() {
  const rows = byId("kiln-rows");
  const number = rows.children.length + 1;
  const input = (part, words, attributes) => el("input", {
    type: "text", "data-part": part, "aria-label": `Piece ${number}: ${words}`, ...attributes });
  const outcome = input("outcome", "what came out", { placeholder: "purple, 45nm" });
  const row = el("div", { class: "kiln-row" },
    input("at", "temperature in °C", { inputmode: "decimal", placeholder: "450" }),
    input("for", "minutes", { inputmode: "decimal", placeholder: "20" }), outcome);
  rows.append(row);
  colourField(outcome, () => {});
  byId("kiln-more").hidden = rows.children.length >= MOST_ROWS;
  return row;
}

/** The pieces as the file of test pieces has them. */
function written() {
  const lines = [...byId("kiln-rows").children].map((row) =>
    Object.fromEntries([...row.querySelectorAll("[data-part]")].map((one) => [one.dataset.part, one.value.trim()])));
  const filled = lines.filter((one) => one.at || one.for || one.outcome);
  if (!filled.length) throw new Refused("Write down at least one piece: its temperature, its minutes, and what came out.");
  return ["metal,temperature_C,time_min,word,hex,Lab,thickness_nm", ...filled.map((one) => {
    const nm = one.outcome.match(OUTCOME);
    const kinds = [!nm && !HEX.test(one.outcome) && !LAB.test(one.outcome), HEX.test(one.outcome), LAB.test(one.outcome)];
    const cells = [metalOf().key, one.at, one.for, ...kinds.map((is) => (is ? one.outcome : "")), nm ? nm[1] : ""];
    return cells.map((cell) => (/[",]/.test(cell) ? `"${cell.replaceAll('"', '""')}"` : cell)).join(",");
  })].join("\n");
}

async function open(file) {
  byId("kiln-file").value = "";
  if (!file) return;
  try {
    if (file.size > LONGEST_FILE) throw new Refused("This file is too long to be a list of test pieces or a saved kiln.");
    const text = await file.text();
    await (/^\s*\{/.test(text) ? reopen(text) : learn(text));
  } catch (error) {
    told.refused(error);
  }
}

const learn = newest(async (pieces) => {
  told.busy("Learning from the test pieces …");
  const { answer, kiln } = await ask("coupons", { pieces });
  told.clear();
  hold(answer, kiln, learntWords(answer), [...answer.warnings, `Next test piece: ${answer.next_piece.words}`]);
  byId("kiln-held").append(exportRow({ verb: "coupons", given: {}, files: { file: { name: "pieces.csv", text: pieces } } }, answer));
  reveal("kiln-held", byId("kiln"));
}, (error) => told.refused(error));

const reopen = newest(async (text) => {
  const { answer } = await ask("kiln", { kiln: text });
  told.clear();
  hold(answer, text, `A kiln for ${answer.metal_name}, learnt from ${answer.pieces} test pieces.`, answer.warnings);
}, (error) => told.refused(error));

function learntWords(found) {
  return `This kiln is ${Number(found.pace.toPrecision(2))} times as fast as the usual law for ${found.metal_name}; `
    + `its predictions are ${Math.round(100 * found.width_ratio)}\u00a0% as wide as before.`;
}

function hold(about, text, words, notes) {
  held = { metal: about.metal, name: about.metal_name, text };
  const link = el("a", { class: "button", href: URL.createObjectURL(new Blob([text], { type: "application/json" })), download: "kiln.json" }, "Save this kiln");
  fill(byId("kiln-held"), el("p", { class: "next" }, el("strong", {}, "Computed with your kiln"), words),
    notes.length ? el("ul", { class: "notes" }, notes.map((one) => el("li", {}, sentence(one)))) : null,
    about.residuals ? pieces(about.residuals) : null,
    el("div", { class: "starts" }, link, el("button", { type: "button", class: "plain", onclick: forget }, "Forget it")));
  metalChosen();
  changed();
}

function pieces(residuals) {
  return scrolling("Test pieces and what the law says", el("table", {},
    el("thead", {}, el("tr", {}, ["Heat", "Came out", "Read as", "Law says"].map((one) => el("th", { scope: "col" }, one)))),
    el("tbody", {}, residuals.map((one) => el("tr", {},
      [one.heat, one.outcome, `${Math.round(one.thickness_nm)} nm`,
        `${Math.round(one.interval90_nm[0])} to ${Math.round(one.interval90_nm[1])} nm${one.fit_p < 0.01 ? "; does not fit" : ""}`,
      ].map((cell) => el("td", {}, cell)))))));
}

function forget() {
  held = null;
  byId("kiln-file").focus();
  fill(byId("kiln-held"));
  metalChosen();
  changed();
}
