// What it looks like: a drawn stack, its colours from three sides, its spectrum.

import { ask, newest, teller } from "./ask.js";
import { noSwatch, swatch } from "./colour.js";
import { TOO_VIVID, rampChart, spectrumChart } from "./chart.js";
import { exportRow } from "./exports.js";
import { byId, el, figure, fill, svg, tell } from "./dom.js";
import { openTables } from "./tables.js";
import { DrawnStack, readStack, sliderEnd, writeStack } from "./stack.js";

const STARTS = [
  ["Tinted titanium", "TiO2 45nm / Ti"],
  ["Front-surface mirror", "SiO2 188nm / Al 80nm / glass 4mm"],
  ["Golden slide", "TiO2 80nm / glass 1mm"],
  ["Thin aluminium", "Al 12nm / glass 1mm"],
];
const RAMP_POINTS = 60;

let drawn;
let written; // what is asked about: the drawn stack as text, or a text that cannot be drawn
let told;

/** Show a stack given as text; other rooms send theirs here. */
export function showStack(text) {
  written = text;
  byId("look-text").value = text;
  const state = readStack(text);
  drawn.fixed = state === null;
  if (state) drawn.set(state);
  refresh();
}

/** Set the room up, with the lists of choices. */
export function openLook(choices) {
  const kinds = new Map(choices.materials.flatMap((one) =>
    [one.name, ...one.aliases].map((name) => [name.toLowerCase(), one.kind])));
  const kindOf = (material) => kinds.get(material.replace(/\(.*\)$/, "").trim().toLowerCase());
  told = teller(byId("look-status"));
  drawn = new DrawnStack(byId("look-stack"), kindOf, () => {
    written = writeStack(drawn.state);
    byId("look-text").value = written;
    refresh();
  });
  byId("look-starts").append(...STARTS.map(([words, text]) =>
    el("button", { type: "button", class: "chip", onclick: () => showStack(text) }, words)));
  fill(byId("look-light"), choices.lights.map((light) => el("option", { value: light }, plainLight(light))));
  byId("look-light").value = "D65";
  byId("look-light").addEventListener("change", () => refresh());
  byId("look-angle").addEventListener("input", () => {
    const angle = Number(byId("look-angle").value);
    tell(byId("look-angle"), byId("look-angle-out"), angle ? `${angle}° from straight on` : "0°, straight on");
    drawRay(angle);
    refresh();
  });
  byId("look-text").addEventListener("change", () => showStack(byId("look-text").value.trim()));
  byId("look-add").addEventListener("click", () => addLayer());
  openTables(addLayer);
  drawRay(0);
  showStack(STARTS[0][1]);
}

/** A light by what it is; its standard name after it. */
function plainLight(name) {
  const plain = [[/^D50$/, "warm daylight"], [/^D65$/, "daylight"], [/^D\d/, "daylight"], [/^A$/, "bulb"],
    [/^LED/, "white LED"], [/^FL/, "fluorescent tube"], [/^HP/, "street lamp"], [/^E$/, "equal energy"]];
  const found = plain.find(([form]) => form.test(name));
  return found ? `${found[1]} (${name})` : name;
}

function addLayer(material = "SiO2") {
  if (drawn.fixed) return;
  drawn.state.layers.unshift({ material, nm: 100 });
  drawn.chosen = 0;
  drawn.draw();
  drawn.changed("layers");
}

function drawRay(angle) {
  const lean = Math.tan((Math.min(angle, 70) * Math.PI) / 180) * 46;
  fill(byId("look-ray"), svg("svg", { viewBox: "-120 0 240 54" },
    svg("path", { d: `M${-lean} 2L0 48M-6 ${40 - lean / 12}L0 48L${6 - lean / 8} 40` }),
    svg("path", { class: "back", d: `M0 48L${lean} 2` })));
}

function question() {
  const { layers } = drawn.state;
  const fields = {
    stack: written,
    angle_deg: Number(byId("look-angle").value),
    light: byId("look-light").value,
  };
  if (!drawn.fixed && layers.length) {
    const end = sliderEnd(layers[drawn.chosen].nm);
    fields.ramp = writeStack(drawn.state, drawn.chosen, `0..${end}nm step ${end / RAMP_POINTS}nm`);
  }
  return fields;
}

const refresh = newest(async () => {
  const asked = question();
  const { answer, drawing } = await ask("look", asked);
  told.clear();
  byId("look-text").removeAttribute("aria-invalid");
  if (asked.stack === written) paintDrawn(drawing);
  byId("look-add").hidden = drawn.fixed;
  byId("look-fixed").hidden = !drawn.fixed;
  if (answer.steps) showSteps(answer);
  else showOne(answer, drawing.back);
  const { stack, angle_deg: angle, light } = asked;
  fill(byId("look-keep"), exportRow({ verb: "look", given: { stack, angle, light } }));
}, (error) => {
  byId("look-text").setAttribute("aria-invalid", "true");
  clear();
  told.refused(error);
});

/** The colours of the drawn stack, as long as they are of this one. */
function paintDrawn(drawing) {
  if (drawn.fixed) drawn.drawFixed(drawing.layers);
  drawn.paint(drawing.ramp);
}

/** Colours of an earlier stack are no answer to one that cannot be read: they go. */
function clear() {
  fill(byId("look-swatches"), noSwatch("Front", "No colour: the layers as written cannot be read."));
  byId("look-swatches").classList.remove("many");
  byId("look-swatches").classList.add("alone");
  fill(byId("look-chart"));
  fill(byId("look-keep"));
  byId("look-said").textContent = "";
}

function seen(heading, side) {
  const vivid = side.in_gamut ? "" : `: ${TOO_VIVID}`; // in the heading, which a phone shows too
  return swatch(`${heading}${vivid}`, side.srgb_hex, side.name, `${figure(side.Y, 2)} % of the light`);
}

function showOne(answer, back) {
  const opaque = answer.transmitted === null;
  byId("look-swatches").classList.remove("many");
  byId("look-swatches").classList.toggle("alone", opaque && !back);
  fill(byId("look-swatches"), seen("Front", answer.reflected),
    back ? seen("From behind", back.reflected)
      : noSwatch("From behind", "Only a plate can be turned over: give the substrate a thickness."),
    opaque ? noSwatch("Seen through", "Nothing passes: what it lies on is opaque.")
      : seen("Seen through", answer.transmitted));
  const curves = [{ words: "reflected, front", values: answer.R, dashes: null }];
  if (back) curves.push({ words: "reflected, behind", values: back.R, dashes: "2 4" });
  if (!opaque) curves.push({ words: "seen through", values: answer.T, dashes: "9 5" });
  fill(byId("look-chart"), spectrumChart(answer.wavelength_nm, curves,
    `Spectrum of ${answer.stack}: ${answer.reflected.name} in reflection`));
  byId("look-said").textContent = `${answer.reflected.name}, ${answer.reflected.srgb_hex}`;
}

/** The colours over one swept thickness; none where several are swept. */
function stripOf(steps) {
  const nm = steps.map((step) => [step.thickness_nm].flat());
  if (nm.length < 2 || nm.some((one) => one.length !== 1)) return null;
  return rampChart(nm.flat(), steps.map((step) => step.reflected), "Colours over thickness");
}

function showSteps(answer) {
  const strip = stripOf(answer.steps);
  byId("look-swatches").classList.remove("alone");
  byId("look-swatches").classList.add("many");
  const every = Math.max(1, Math.ceil(answer.steps.length / 12));
  fill(byId("look-swatches"), strip, answer.steps.filter((_, i) => i % every === 0).map((step) => {
    const nm = [step.thickness_nm].flat().map((one) => `${figure(one)} nm`).join(", ");
    return swatch(nm, step.reflected.srgb_hex, step.reflected.name);
  }));
  fill(byId("look-chart"));
  byId("look-said").textContent = `${answer.steps.length} thicknesses`;
}
