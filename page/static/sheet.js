// How to deposit it: the run sheet, one row a layer.

import { ask, newest, teller } from "./ask.js";
import { named, swatch } from "./colour.js";
import { byId, el, fill, figure, nanometres, percent, sentence } from "./dom.js";

const FIELDS = ["stack", "source", "distance", "pressure", "size", "tooling"];

let told;

/** Set the form up. */
export function openSheet() {
  told = teller(byId("sheet-status"));
  byId("sheet-form").addEventListener("submit", (event) => { event.preventDefault(); plan(); });
  byId("sheet-print").addEventListener("click", () => window.print());
  fill(byId("sheet-answer"), el("p", { class: "empty" }, el("strong", {}, "No run planned yet"),
    "Write the stack, or take one of the designs above, and plan the run."));
}

/** Plan the run of a stack; designs send theirs here. */
export function planStack(text) {
  byId("sheet-stack").value = text;
  byId("sheet-title").scrollIntoView({ block: "start" });
  byId("sheet-stack").focus({ preventScroll: true });
  plan();
}

const plan = newest(async () => {
  told.busy("Planning the run …");
  const fields = Object.fromEntries(FIELDS.map((name) => [name, byId(`sheet-${name}`).value]));
  const rate = byId("sheet-rate").value;
  const { answer } = await ask("sheet", { ...fields, rate: rate.split(",") });
  told.clear();
  showSheet(answer);
}, (error) => told.refused(error));

/** Seconds as a clock shows them. */
function clock(s) {
  return s < 60 ? `${figure(s, 2)} s` : `${Math.floor(s / 60)} min ${Math.round(s % 60)} s`;
}

function cell(head, ...children) {
  return el("td", { "data-head": head }, ...children);
}

function mass(g) {
  if (g === null) return "none: sputtered";
  return g < 1 ? `${figure(1000 * g, 2)} mg` : `${figure(g, 2)} g`;
}

function metal(step) {
  if (step.stays_metal === null) return "no metal";
  const { verdict, probabilities } = step.metal;
  const chance = percent(probabilities.metal);
  return step.stays_metal ? `yes, ${chance}` : `not surely: ${verdict}; metal ${chance}`;
}

function row(step) {
  const { reflected, transmitted } = step.witness;
  const heat = step.source_temperature_C === null ? (step.mass_g === null ? "cold" : "found by trial")
    : `${figure(step.source_temperature_C, 3)} °C`;
  return el("tr", {}, cell("step", `${step.step}`),
    cell("film", el("strong", {}, step.material), el("br"), nanometres(step.thickness_nm)),
    cell("charge", mass(step.mass_g)), cell("time", clock(step.time_s)), cell("source at", heat),
    cell("stays metal", metal(step)),
    cell("witness then, film side", named(reflected.srgb_hex, reflected.name)),
    cell("and through", transmitted ? named(transmitted.srgb_hex, transmitted.name) : "opaque"));
}

function showSheet(sheet) {
  const heads = ["step", "film", "charge", "time", "source at", "stays metal", "witness then, film side", "and through"];
  const remarks = sheet.layers.flatMap((step) => step.remarks.map((one) => `Step ${step.step}: ${one}`));
  fill(byId("sheet-answer"),
    el("div", { class: "swatches two" },
      swatch("Finished, in the middle", sheet.finished.srgb_hex, sheet.finished.name),
      swatch("At the rim", sheet.rim.srgb_hex, sheet.rim.name,
        `${figure(100 * sheet.uniformity.half_spread, 2)} % thinner or thicker across the piece`)),
    el("div", { class: "scroll" }, el("table", { class: "steps-table" },
      el("thead", {}, el("tr", {}, heads.map((head) => el("th", { scope: "col" }, head)))),
      el("tbody", {}, sheet.layers.map(row)))),
    remarks.length ? el("ul", { class: "notes" }, remarks.map((one) => el("li", {}, sentence(one)))) : null,
    el("div", { class: "caution" }, el("strong", {}, "Before you pump down"),
      el("ul", {}, sheet.cautions.map((one) => el("li", {}, sentence(one))))));
}
