// What to deposit: goals, materials, and the designs found for them.

import { sayAnswer, sayBusy } from "./answer_line.js";
import { ask, askLong, teller } from "./ask.js";
import { named } from "./colour.js";
import { spectrumChart } from "./chart.js";
import { showExample } from "./example.js";
import { exportRow } from "./exports.js";
import { goalBands } from "./goal_bands.js";
import { keepAlso } from "./keep.js";
import { byId, el, fill, fillEmpty, figure, nanometres, percent, sentence } from "./dom.js";
import { showStack } from "./look.js";
import { reveal } from "./order.js";
import { planStack } from "./sheet.js";

const AT_HAND = ["Al", "Ag", "Cr", "Ti", "Cu", "Au", "SiO2", "TiO2", "MgF2", "Al2O3", "Ta2O5", "ZnS"];
const DASHES = [null, "9 5", "2 4", "12 4 2 4", "5 3", "1 3"];
const STARTS = [
  ["Bright mirror", [["R", ">", 95, 450, 650]], ["Al", "SiO2", "TiO2"], 5],
  ["No glare", [["R", "<", 0.5, 450, 650]], ["SiO2", "TiO2"], 6],
  ["Half mirror", [["R", "=", 50, 450, 650]], ["SiO2", "TiO2"], 6],
  ["Heat mirror", [["T", ">", 80, 450, 650], ["R", ">", 80, 1200, 2000]], ["Ag", "TiO2", "SiO2"], 6],
];
const SHORT = { effort: 300, samples: 2000 }; // a search a person waits for; asked and exported alike
const QUANTITIES = [["R", "reflect"], ["T", "let through"], ["A", "absorb"]];
const RELATIONS = [[">", "more than"], ["<", "less than"], ["=", "just"]];

let asked = 0; // which search is the newest
let told;
let bands; // the goals as a chart

/** Set the room up. */
export function openDeposit() {
  told = teller(byId("design-status"));
  fill(byId("design-with"), AT_HAND.map((name) => el("label", {},
    el("input", { type: "checkbox", value: name }), name)));
  byId("design-starts").append(...STARTS.map((start) => el("button", {
    type: "button", class: "chip", onclick: () => begin(start),
  }, start[0])));
  byId("design-add").addEventListener("click", () => addGoal("R", ">", 90, 450, 650));
  bands = goalBands({ read: goalParts, write: writeGoal, add: addGoal });
  byId("design-goals").before(bands.box);
  byId("design-goals").addEventListener("input", bands.draw);
  byId("design-form").addEventListener("submit", (event) => { event.preventDefault(); look(); });
  fillEmpty(byId("design-answer"), "No designs yet", "Say what it must do, tick what you can deposit, and look for designs. A search takes some seconds.");
  begin(STARTS[0]);
  keepAlso("deposit", { get: heldGoals, set: takeGoals });
  return () => showExample("design-answer", "a bright mirror of aluminium, silica and titania, found by a very short search.", async () => {
    const wanted = { on: "glass", goals: ["R>95% 450..650nm"], with: ["Al", "SiO2", "TiO2"], max_layers: 3, effort: 20, samples: 200 };
    const { answer, drawing } = await ask("design", wanted);
    return designParts(answer, drawing);
  });
}

/** Goals and materials for the address, where they are not those the room begins with. */
function heldGoals() {
  const held = JSON.stringify([goalParts(), ticked()]);
  return { wanted: held === JSON.stringify([STARTS[0][1].map((goal) => goal.map(String)), inOrder(STARTS[0][2])]) ? "" : held };
}

function takeGoals(held) {
  if (!held.get("wanted")) return;
  const [goals, materials] = JSON.parse(held.get("wanted"));
  begin([null, goals, materials, byId("design-layers").value]);
}

function inOrder(names) {
  return AT_HAND.filter((name) => names.includes(name));
}

function ticked() {
  return [...byId("design-with").querySelectorAll(":checked")].map((box) => box.value);
}

function begin([, goals, materials, layers]) {
  fill(byId("design-goals"), goals.map(goalRow));
  for (const box of byId("design-with").querySelectorAll("input")) box.checked = materials.includes(box.value);
  byId("design-layers").value = layers;
  bands?.compare();
}

function addGoal(...parts) {
  byId("design-goals").append(goalRow(parts));
  bands.draw();
}

/** Put into the row of a goal what its band on the chart was dragged to. */
function writeGoal(i, ...figures) {
  const boxes = byId("design-goals").children[i].querySelectorAll("input");
  figures.forEach((value, k) => { boxes[k].value = value; });
}

function choose(options, value, words) {
  const select = el("select", { "aria-label": words }, options.map(([code, said]) => el("option", { value: code }, said)));
  select.value = value;
  return select;
}

function number(value, words, unit) {
  return el("span", { class: "unit", "data-unit": unit },
    el("input", { type: "number", min: 0, step: "any", value, "aria-label": words }));
}

function goalRow([quantity, relation, share, from, to]) {
  const row = el("div", { class: "goal", role: "group", "aria-label": "A goal" },
    choose(QUANTITIES, quantity, "What it must do"), choose(RELATIONS, relation, "How much"),
    el("span", { class: "share" }, number(share, "Share of the light in percent", "%")),
    el("button", { type: "button", class: "remove", "aria-label": "Remove this goal", onclick: () => { focusAfter(row); row.remove(); bands.draw(); } }, "×"),
    el("span", { class: "band" }, "from", number(from, "Shortest wavelength in nanometres", "nm"), "to",
      number(to, "Longest wavelength in nanometres", "nm")));
  return row;
}

/** Where keys go on when a goal is taken away: the next one, or where one is added. */
function focusAfter(row) {
  const next = row.nextElementSibling ?? row.previousElementSibling;
  (next?.querySelector(".remove") ?? byId("design-add")).focus();
}

function goalParts() {
  return [...byId("design-goals").children].map((row) =>
    [...row.querySelectorAll("select, input")].map((one) => one.value));
}

function goals() {
  const rows = goalParts().map(([quantity, relation, share, from, to]) => `${quantity}${relation}${share}% ${from}..${to}nm`);
  return [...rows, ...byId("design-words").value.split(";").map((one) => one.trim()).filter(Boolean)];
}

async function look() {
  const others = byId("design-others").value.split(",").map((name) => name.trim()).filter(Boolean);
  if (!byId("design-stop").hidden) byId("design-stop").click(); // the search before is for nobody now
  asked += 1;
  const mine = asked;
  told.busy("Looking for designs …");
  sayBusy("deposit", "design-status", "Looking for designs …");
  byId("design-answer").setAttribute("aria-busy", "true");
  try {
    const fields = {
      on: byId("design-on").value, goals: goals(), with: [...ticked(), ...others],
      max_layers: Number(byId("design-layers").value), tolerance: byId("design-tolerance").value,
      robust: byId("design-robust").checked, ...SHORT,
    };
    const found = await askLong("design", fields, told.busy, byId("design-stop"));
    if (asked !== mine) return;
    told.clear();
    bands.compare(found.drawing?.wavelength_nm, found.drawing?.values[0]);
    showDesigns(found.answer, found.drawing, asTyped(fields));
    reveal("design-answer", byId("design-form"));
  } catch (error) {
    if (asked !== mine) return;
    fillEmpty(byId("design-answer"), "No designs", "What was entered cannot be used yet.");
    sayAnswer("deposit", "design-status", error.message);
    told.refused(error);
  } finally {
    if (asked === mine) byId("design-answer").removeAttribute("aria-busy");
  }
}

/** The question as the command line is asked it; the page's own search is a short one. */
function asTyped({ on, goals: wanted, with: materials, max_layers, tolerance, robust }) {
  const given = { on, goals: wanted, materials: materials.join(","), max_layers, errors: tolerance, make_robust: robust, ...SHORT };
  return { verb: "design", given };
}

function designParts(answer, drawing) {
  const curves = (drawing?.values ?? []).map((values, i) => ({ words: `design ${i + 1}`, values, dashes: DASHES[i] }));
  return [el("h2", { class: "lead" }, leadOf(answer)),
    ...(curves.length ? [spectrumChart(drawing.wavelength_nm, curves, chartTitle(drawing), drawing.bands),
      el("p", { class: "quiet" }, `${chartTitle(drawing)}.`)] : []),
    el("div", { class: "cards" }, answer.designs.map((one, i) => design(one, i, answer))),
    answer.notes.length ? el("ul", { class: "notes" }, answer.notes.map((one) => el("li", {}, sentence(one)))) : null];
}

const MOST_LAYERS = 6; // that a sentence can name

/** The best design in one sentence, and how many others are as good. */
function leadOf({ designs, on }) {
  const [best] = designs;
  const parts = [...best.layers.map((one) => `${shortName(one.material)} ${nanometres(one.thickness_nm)}`), shortName(on)];
  const what = best.layers.length > MOST_LAYERS ? `Design 1, ${best.layers.length} layers, ${nanometres(best.total_nm)} in all` : parts.join(" / ");
  const good = designs.filter((one) => one.met).length;
  if (good === 0) return `No design meets every goal; nearest: ${what}.`;
  return `${what}: meets every goal${good > 1 ? `, as ${good === 2 ? "does 1 other" : `do ${good - 1} others`}` : ""}.`;
}

function shortName(label) {
  return label.replace(/\(.*\)/, "");
}

/** What the chart shows: what the first goal asks about, as it looks at it. */
function chartTitle({ shown, angle_deg: angle, polarization: way }) {
  const how = [angle ? `at ${figure(angle)}°` : "", way === "mean" ? "" : `${way}-polarised`].filter(Boolean).join(", ");
  return `${shown === "R" ? "Reflected" : "Let through"}${how ? ` ${how}` : ""}; shaded, where a goal forbids it`;
}

function showDesigns(answer, drawing, question) {
  const parts = designParts(answer, drawing);
  sayAnswer("deposit", "design-answer", parts[0].textContent, answer.designs.slice(0, 1).map((one) => one.srgb_hex));
  fill(byId("design-answer"), parts, exportRow(question, answer));
}

function design(one, i, answer) {
  const metals = /^(Al|Ag|Cr|Ti|Cu|Au|Ni|W|Mo|Ta|Nb|Zr)\(/;
  const facts = [["reflects, mean", `${figure(100 * one.mean_R)} %`], ["least", `${figure(100 * one.min_R)} %`],
    ["in all", nanometres(one.total_nm)], ["come out right", one.yield === null ? null : percent(one.yield)]];
  return el("article", { class: "design", "aria-label": `Design ${i + 1}` },
    el("ol", { class: "mini", "aria-label": "Layers from the light inward" },
      one.layers.map((layer) => el("li", { class: metals.test(layer.material) ? "metal" : "" },
        el("span", {}, shortName(layer.material)), el("span", { class: "figure" }, nanometres(layer.thickness_nm)))),
      el("li", { class: "ground" }, shortName(answer.on))),
    el("div", { class: "design-words" }, el("h3", {}, `Design ${i + 1}`), named(one.srgb_hex, one.name),
      el("dl", { class: "facts" }, facts.filter(([, value]) => value !== null).map(([term, value]) =>
        el("div", {}, el("dt", {}, term), el("dd", {}, value)))),
      el("ul", { class: "notes" }, one.goals.map((goal) => el("li", {},
        `${goal.goal}: ${goal.met ? "met" : `missed by ${figure(goal.miss, 2)} ${goal.unit}`}`))),
      el("div", { class: "row" },
        el("button", { type: "button", class: "plain", onclick: () => { showStack(one.stack); location.hash = "look"; } }, "See it"),
        el("button", { type: "button", class: "plain", onclick: () => planStack(one.stack, answer.goals) }, "Plan the run"))));
}
