// How to deposit it: the run sheet, one row a layer.

import { sayAnswer, sayBusy } from "./answer_line.js";
import { ask, newest, teller } from "./ask.js";
import { named, swatch } from "./colour.js";
import { showExample } from "./example.js";
import { exportRow } from "./exports.js";
import { followParts } from "./follow.js";
import { byId, el, fill, fillEmpty, figure, nanometres, percent, scrolling, sentence } from "./dom.js";
import { reveal } from "./order.js";
import { nextRun } from "./remedies.js";

const FIELDS = ["stack", "source", "distance", "pressure", "size", "tooling", "working_gas",
  "working_pressure", "leak", "pumping"];
const WIRE = ["wire", "wire_diameter", "melted_at", "cold_ohms", "wire_length", "coil", "current"];
const DISCHARGE = ["current", "voltage"];

let told;

/** Set the form up. */
export function openSheet(choices) {
  told = teller(byId("sheet-status"));
  fill(byId("sheet-trouble"), el("option", { value: "" }, "nothing"),
    choices.troubles.map((one) => el("option", { value: one }, one)));
  byId("sheet-form").addEventListener("submit", (event) => { event.preventDefault(); plan(); });
  byId("sheet-source").addEventListener("change", showSource);
  showSource();
  byId("sheet-print").addEventListener("click", printSheet);
  fillEmpty(byId("sheet-answer"), "No run planned yet", "Write the stack, or take one of the designs above, and plan the run.");
  return () => showExample("sheet-answer", "80 nm of aluminium from a boat, onto glass.", async () => {
    const fields = { stack: "Al 80nm / glass 4mm", source: "boat", distance: "30cm", pressure: "1e-5mbar", size: "50mm", rate: ["2nm/s"] };
    return sheetParts((await ask("sheet", fields)).answer, fields);
  });
}

/** Show the fields of the source that is chosen. */
function showSource() {
  const source = byId("sheet-source").value;
  byId("sheet-wire-fields").hidden = source !== "wire";
  byId("sheet-feed-fields").hidden = source !== "wire" && source !== "sputter";
  byId("sheet-voltage-label").hidden = source !== "sputter";
}

/** The fields that count for the source, by name; a leak tells the pressure itself. */
function fieldsOfSource() {
  const source = byId("sheet-source").value;
  const own = source === "wire" ? WIRE : source === "sputter" ? DISCHARGE : [];
  const told = Object.fromEntries([...FIELDS, ...own]
    .map((name) => [name, byId(`sheet-${name}`).value.trim()]).filter(([, value]) => value));
  if (told.leak) delete told.pressure;
  return { ...told, plastic: byId("sheet-plastic").checked };
}

/** What went wrong before, what is watched, what the piece is for, and the steps made, where filled in. */
function watched() {
  const parts = (id, mark) => byId(id).value.split(mark).map((one) => one.trim()).filter(Boolean);
  const told = { trouble: [byId("sheet-trouble").value].filter(Boolean), monitor: byId("sheet-monitor").value.trim(), goals: parts("sheet-goals", ";"), made: parts("sheet-made", "\n") };
  return Object.fromEntries(Object.entries(told).filter(([, value]) => value.length));
}

/** Print the run sheet alone; the designs and the jar are no part of it. */
function printSheet() {
  document.body.classList.add("print-sheet");
  window.addEventListener("afterprint", () => document.body.classList.remove("print-sheet"), { once: true });
  window.print();
}

/** What the sheet was computed for, as the form calls it, so that a print can be trusted later. */
function conditions(fields) {
  const said = Object.entries(fields).filter(([name, value]) => name !== "plastic" && value.length)
    .map(([name, value]) => [labelOf(`sheet-${name}`), chosenWords(byId(`sheet-${name}`), value)]);
  if (fields.plastic) said.push(["Near the piece", "plastic"]);
  return el("dl", { class: "facts conditions" }, said.map(([term, value]) => el("div", {}, el("dt", {}, term), el("dd", {}, value))));
}

function labelOf(id) {
  return byId(id).labels[0].firstChild.textContent.trim();
}

function chosenWords(field, value) {
  return field.selectedOptions ? field.selectedOptions[0].textContent : String(value);
}

/** Plan the run of a stack; designs send theirs here. */
export function planStack(text, goals = []) {
  byId("sheet-stack").value = text;
  byId("sheet-goals").value = goals.join("; ");
  byId("sheet-made").value = "";
  byId("sheet-title").scrollIntoView({ block: "start" });
  byId("sheet-stack").focus({ preventScroll: true });
  plan();
}

const plan = newest(async () => {
  told.busy("Planning the run …");
  sayBusy("deposit", "sheet-status", "Planning the run …");
  const rate = byId("sheet-rate").value.trim();
  const fields = { ...fieldsOfSource(), rate: rate ? rate.split(",") : [], ...watched() };
  const { answer } = await ask("sheet", fields);
  told.clear();
  showSheet(answer, fields);
  reveal("sheet-answer", byId("deposit"));
}, (error) => {
  fillEmpty(byId("sheet-answer"), "No run planned", "What was entered cannot be used yet.");
  sayAnswer("deposit", "sheet-status", error.message);
  told.refused(error);
});

/** Seconds as a clock shows them. */
function clock(s) {
  if (s === null || s > 1e6) return "weeks";
  const whole = Math.round(s);
  if (s < 60) return `${figure(s, 2)} s`;
  if (whole >= 3600) return `${Math.floor(whole / 3600)} h ${Math.floor((whole % 3600) / 60)} min`;
  return `${Math.floor(whole / 60)} min ${whole % 60} s`;
}

function cell(head, ...children) {
  return el("td", { "data-head": head }, ...children);
}

function mass(g) {
  if (g === null) return "none: sputtered";
  return g < 1 ? `${figure(1000 * g, 2)} mg` : `${figure(g, 2)} g`;
}

function chances(step) {
  if (step.states === null) return "no metal";
  return Object.entries(step.states).filter(([, share]) => share >= 0.01)
    .map(([state, share]) => `${state} ${percent(share)}`).join(", ");
}

function look(colour, otherwise) {
  return colour ? named(colour.srgb_hex, colour.name) : otherwise;
}

/** One line for each state that is not unlikely, the likeliest first. */
function rows(step) {
  const shares = { ...(step.states || {}), nitride: step.nitride || 0 };
  const states = Object.entries(step.witness)
    .filter(([state], i) => i === 0 || shares[state] >= 0.01);
  return states.map(([state, seen], i) => el("tr", {}, ...(i === 0 ? stepCells(step, states.length) : []),
    cell("becomes", step.states === null ? "no metal" : state === "film" ? chances(step) : `${state} ${percent(shares[state])}`),
    cell("witness then", seen ? look(seen.reflected, "") : "not known"),
    cell("and through", seen ? look(seen.transmitted, "opaque") : "")));
}

function stepCells(step, span) {
  const heat = step.source_temperature_C === null ? (step.mass_g === null ? "cold" : "found by trial")
    : `${figure(step.source_temperature_C, 3)} °C`;
  const cells = [["step", `${step.step}`], ["film", el("strong", {}, step.material), el("br"), nanometres(step.thickness_nm)],
    ["charge", mass(step.mass_g)], ["time", clock(step.time_s)], ["source at", heat]];
  return cells.map(([head, ...children]) => el("td", { "data-head": head, rowspan: `${span}` }, ...children));
}

function wireTable(step) {
  if (!step.wire || !step.wire.table.length) return null;
  const heads = ["current", "hottest", "on the piece", "burns out in"];
  return scrolling("What the wire does at each current", el("table", { class: "steps-table" },
    el("thead", {}, el("tr", {}, heads.map((head) => el("th", { scope: "col" }, head)))),
    el("tbody", {}, step.wire.table.map((at) => el("tr", {},
      cell("current", `${figure(at.current_A, 3)} A`), cell("hottest", `${figure(at.temperature_C, 4)} °C`),
      cell("on the piece", `${figure(at.rate_nm_s, 2)} nm/s`), cell("burns out in", clock(at.lasts_s)))),
    el("tr", {}, cell("current", `${figure(step.wire.melting_A, 3)} A`), cell("hottest", "melts"), cell("", ""), cell("", "")))));
}

function shortly(sheet) {
  const seconds = sheet.possible.as_asked ? sheet.layers.reduce((sum, step) => sum + (step.time_s ?? 0), 0) : sheet.possible.time_s;
  const end = sheet.finished ? `, finished ${sheet.finished.name}` : "";
  return `${sheet.layers.length} ${sheet.layers.length === 1 ? "layer" : "layers"}, ${clock(seconds)} of deposition${end}`;
}

function showSheet(sheet, fields) {
  sayAnswer("deposit", "sheet-answer", shortly(sheet), sheet.finished ? [sheet.finished.srgb_hex] : []);
  fill(byId("sheet-answer"), sheetParts(sheet, fields),
    exportRow({ verb: "sheet", given: fields }, sheet, () => ({ kind: "chamber", metal: sheet.layers.at(-1).material,
      current: fields.current ?? "", answer: `planned: ${shortly(sheet)}`, time: `${Math.round(sheet.layers.reduce((sum, step) => sum + (step.time_s ?? 0), 0))}s` })));
}

function sheetParts(sheet, fields) {
  const heads = ["step", "film", "charge", "time", "source at", "becomes", "witness then", "and through"];
  const remarks = sheet.layers.flatMap((step) => step.remarks.map((one) => `Step ${step.step}: ${one}`));
  const likeliest = sheet.layers.some((step) => step.states && !step.stays_metal) ? " (likeliest)" : "";
  return [el("p", { class: "lead" }, sentence(shortly(sheet))),
    sheet.possible.as_asked ? null : el("p", { class: "lead" },
      ...sheet.possible.why_not.map((one) => `${sentence(one)} `), `What the source can do takes ${clock(sheet.possible.time_s)}:`),
    sheet.finished ? el("div", { class: "swatches two" },
      swatch(`Finished, in the middle${likeliest}`, sheet.finished.srgb_hex, sheet.finished.name),
      swatch("At the rim", sheet.rim.srgb_hex, sheet.rim.name,
        `${figure(100 * sheet.uniformity.half_spread, 2)} % thinner or thicker across the piece`)) : null,
    scrolling("Run sheet, a row a layer", el("table", { class: "steps-table" },
      el("thead", {}, el("tr", {}, heads.map((head) => el("th", { scope: "col" }, head)))),
      el("tbody", {}, sheet.layers.flatMap(rows)))),
    conditions(fields),
    ...sheet.layers.map(wireTable),
    sheet.replan && sheet.replan.goals.length ? el("ul", { class: "notes" }, sheet.replan.goals.map((goal) => el("li", {},
      `${goal.goal}: ${goal.met ? "met" : `missed by ${figure(goal.miss, 2)} ${goal.unit}`} with the rest changed`))) : null,
    sheet.monitoring ? followParts(sheet.monitoring, sheet.layers.filter((step) => step.made).length) : null,
    remarks.length ? el("ul", { class: "notes" }, remarks.map((one) => el("li", {}, sentence(one)))) : null,
    ...sheet.layers.map((step) => nextRun(step.remedies, `What would change step ${step.step}`)),
    el("div", { class: "caution" }, el("strong", {}, "Before you pump down"),
      el("ul", {}, sheet.cautions.map((one) => el("li", {}, sentence(one)))))];
}
