// From heat to colour: sliders over a field of colours, and heats for a colour wanted.

import { sayAnswer } from "./answer_line.js";
import { ask, newest, teller } from "./ask.js";
import { channels, colourField, named, noSwatch, paintTrack, showInWell, swatch } from "./colour.js";
import { bars } from "./chart.js";
import { exportRow } from "./exports.js";
import { kilnFields, metalChosen, openKiln } from "./kiln.js";
import { reveal } from "./order.js";
import { byId, el, fill, fillEmpty, minutes, ordinal, percent, sentence, span, tell } from "./dom.js";

const [SHORTEST_MIN, LONGEST_MIN] = [1, 480];
const [COLUMNS, ROWS] = [80, 44];
const START = { Ti: 450 };

let metals;
let field = null; // the colours of the metal over temperature and time
let answered = ""; // the question whose recipes are shown
let told;

/** Set the room up; what is still to be done when it is first shown. */
export function openHeat(choices) {
  metals = choices.metals;
  told = teller(byId("heat-status"));
  fill(byId("heat-metal"), metals.map((one) => el("option", { value: one.key },
    `${one.name}${one.colour ? "" : " (thickness only)"}`)));
  byId("heat-metal").addEventListener("change", chooseMetal);
  byId("heat-at").addEventListener("input", moved);
  byId("heat-for").addEventListener("input", moved);
  byId("heat-for").value = slotOf(20);
  byId("heat-volts").addEventListener("input", moved);
  for (const radio of byId("heat-way").querySelectorAll("input")) radio.addEventListener("change", chooseWay);
  const canvas = byId("heat-field");
  const pick = (event) => { if (event.buttons || event.type === "pointerdown") pickHeat(event); };
  canvas.addEventListener("pointerdown", pick);
  canvas.addEventListener("pointermove", pick);
  const want = byId("heat-want");
  colourField(want, () => findHeats());
  byId("heat-want-form").addEventListener("submit", (event) => { event.preventDefault(); findHeats(); });
  byId("heat-want-for").addEventListener("change", () => { if (want.value.trim()) findHeats(); });
  fillEmpty(byId("heat-recipes"), "No colour asked for yet", "Write a word such as purple or dark blue, or pick a colour, and each heat that gives it is shown.");
  openKiln(metal, () => {
    refreshField(metal().key);
    if (want.value.trim()) findHeats();
    moved();
  });
  return chooseMetal;
}

function metal() {
  return metals.find((one) => one.key === byId("heat-metal").value);
}

function inBath() {
  return byId("heat-way").querySelector(":checked").value === "bath";
}

/** Kiln or bath: other sliders, and other words for what is looked for. */
function chooseWay() {
  const bath = inBath();
  byId("heat-bath").hidden = !bath;
  byId("heat-kiln").hidden = bath;
  byId("kiln").hidden = bath;
  byId("heat-want-time").hidden = bath;
  byId("heat-want-title").textContent = bath ? "Which voltage gives this?" : "Which heat gives this?";
  byId("heat-find").textContent = bath ? "Find voltages" : "Find heats";
  fill(byId("heat-recipes"));
  answered = "";
  moved();
  if (byId("heat-want").value.trim()) findHeats();
}

function slotOf(min) {
  return (100 * Math.log(min / SHORTEST_MIN)) / Math.log(LONGEST_MIN / SHORTEST_MIN);
}

/** The time of the slider, in steps a clock can follow. */
function timeMin() {
  const min = SHORTEST_MIN * (LONGEST_MIN / SHORTEST_MIN) ** (Number(byId("heat-for").value) / 100);
  const step = min < 10 ? 0.5 : min < 60 ? 1 : 5;
  return Math.max(SHORTEST_MIN, Math.round(min / step) * step);
}

function chooseMetal() {
  const [low, high] = metal().range_C;
  const slider = byId("heat-at");
  [slider.min, slider.max] = [Math.ceil(low), Math.floor(high)];
  slider.value = START[metal().key] ?? Math.round(low + 0.55 * (high - low));
  byId("heat-low").textContent = `${Math.ceil(low)} °C`;
  byId("heat-high").textContent = `${Math.floor(high)} °C`;
  const bath = metal().anodic_V;
  byId("heat-way").hidden = bath === null;
  if (bath) {
    const volts = byId("heat-volts");
    [volts.min, volts.max, volts.value] = [bath[0], bath[1], Math.min(20, bath[1])];
  } else {
    byId("heat-way").querySelector("[value=kiln]").checked = true;
  }
  metalChosen();
  field = null;
  drawField();
  refreshField(metal().key);
  chooseWay();
}

function times() {
  return Array.from({ length: ROWS }, (_, i) =>
    SHORTEST_MIN * (LONGEST_MIN / SHORTEST_MIN) ** (i / (ROWS - 1)));
}

const refreshField = newest(async (key) => {
  const chosen = metals.find((one) => one.key === key);
  if (!chosen.colour) return;
  const { answer, drawing } = await ask("strip", { metal: key, temperatures: COLUMNS, times_min: times(), ...kilnFields() });
  if (key !== byId("heat-metal").value) return;
  byId("heat-vivid").hidden = drawing.in_gamut.flat().every(Boolean);
  field = answer;
  drawField();
  paint();
}, (error) => told.refused(error));

function drawField() {
  const canvas = byId("heat-field");
  canvas.closest("figure").hidden = !metal().colour;
  if (!field) return;
  [canvas.width, canvas.height] = [COLUMNS, ROWS];
  const pen = canvas.getContext("2d");
  const image = pen.createImageData(COLUMNS, ROWS);
  field.srgb_hex.forEach((row, x) => row.forEach((hex, y) => {
    image.data.set([...channels(hex), 255], 4 * (y * COLUMNS + x));
  }));
  pen.putImageData(image, 0, 0);
}

function places() {
  const slider = byId("heat-at");
  const [low, high] = [Number(slider.min), Number(slider.max)];
  const x = (Number(slider.value) - low) / (high - low);
  return [x, Number(byId("heat-for").value) / 100];
}

function pickHeat(event) {
  const box = byId("heat-field").getBoundingClientRect();
  const share = (value) => Math.min(1, Math.max(0, value));
  const slider = byId("heat-at");
  const [low, high] = [Number(slider.min), Number(slider.max)];
  slider.value = low + share((event.clientX - box.left) / box.width) * (high - low);
  byId("heat-for").value = 100 * share((event.clientY - box.top) / box.height);
  moved();
}

/** The heat was changed: show where it is, and ask for its colours. */
function moved() {
  const under = paint();
  if (under && !inBath()) foretell(...under);
  refresh();
}

/** Show where the sliders stand, and the colours of the field along them; the one they meet at. */
function paint() {
  const [x, y] = places();
  tell(byId("heat-at"), byId("heat-at-out"), `${byId("heat-at").value} °C`);
  tell(byId("heat-for"), byId("heat-for-out"), minutes(timeMin()));
  tell(byId("heat-volts"), byId("heat-volts-out"), `${byId("heat-volts").value} V`);
  const cross = byId("heat-cross");
  cross.style.left = `${100 * x}%`;
  cross.style.top = `${100 * y}%`;
  for (const id of ["heat-at", "heat-for"]) byId(id).classList.toggle("painted", field !== null);
  if (!field) return null;
  const [i, j] = [Math.round(x * (COLUMNS - 1)), Math.round(y * (ROWS - 1))];
  paintTrack(byId("heat-at"), field.srgb_hex.map((row) => row[j]));
  paintTrack(byId("heat-for"), field.srgb_hex[i]);
  return [field.srgb_hex[i][j], field.name[i][j]];
}

/** The colour of the nearest place in the field, until the answer for this very heat is here. */
function foretell(hex, name) {
  const shown = byId("heat-swatch").firstChild;
  if (!shown || shown.classList.contains("none")) return;
  shown.querySelector(".field").style.backgroundColor = hex;
  shown.querySelector(".name").textContent = name;
  shown.querySelector(".hex").textContent = hex;
}

/** The heat as the run log and the command line are told it. */
function heatTyped() {
  return { at: `${byId("heat-at").value}C`, for: `${timeMin()}min` };
}

const SOON_MS = 500; // what takes longer is said to be under way

const refresh = newest(async () => {
  const late = setTimeout(() => told.busy("Working out the colours …"), SOON_MS);
  const way = inBath() ? { volts: Number(byId("heat-volts").value) } : { ...heatTyped(), ...kilnFields() };
  const [typed, noted] = [asTyped(), inBath() ? null : { kind: "kiln", metal: metal().key, on: metal().key, at: way.at, time: way.for }];
  const { answer } = await ask("tint", { metal: metal().key, ...way }).finally(() => clearTimeout(late));
  told.clear();
  showTint(answer, typed, noted);
}, (error) => {
  sayAnswer("heat", "heat-status", error.message);
  fill(byId("heat-swatch"), noSwatch(metal().name, "No colour for this yet."));
  fill(byId("heat-answer"));
  told.refused(error);
});

/** The answer in the fewest words: what is read above a phone's tab bar. */
function shortly(tint) {
  const [first] = tint.names;
  return `${first ? `${first.name} ${percent(first.probability)} · ` : ""}${Math.round(tint.thickness_nm)} nm, ${span(tint.interval90_nm).replace(" nm", "")}`;
}

/** Show the answer; `typed` is its question as the command line is asked it, `noted` what the run log is told. */
function showTint(tint, typed, noted) {
  sayAnswer("heat", "heat-answer", shortly(tint), [tint.names[0]?.srgb_hex ?? tint.srgb_hex].filter(Boolean));
  const thick = `about ${Math.round(tint.thickness_nm)} nm of ${tint.oxide}; nine of ten pieces ${span(tint.interval90_nm)}`;
  fill(byId("heat-swatch"), tint.srgb_hex
    ? swatch(`${tint.metal_name}, ${tint.treatment}`, tint.srgb_hex, tint.name, thick)
    : noSwatch(`${tint.metal_name}, ${tint.treatment}`, thick));
  byId("heat-swatch").firstChild.classList.add("big");
  fill(byId("heat-answer"),
    tint.names.length ? [el("h2", {}, "It may turn out"), bars(tint.names.map((one) => ({
      words: one.name, share: one.probability, hex: one.srgb_hex, note: one.srgb_hex,
    })))] : null,
    tint.warnings.length ? el("ul", { class: "notes" }, tint.warnings.map((one) => el("li", {}, sentence(one)))) : null,
    cautions(tint.cautions),
    el("details", {}, el("summary", {}, "What this rests on"),
      el("ul", { class: "notes" }, [`Law: ${tint.law}`, `Source: ${tint.source}`,
        `Optical data: ${tint.data_sets.join(", ")}`, tint.note].filter(Boolean).map((one) => el("li", {}, sentence(one))))),
    exportRow(typed, tint, noted && (() => ({ ...noted, answer: toBeExpected(tint) }))));
}

function asTyped() {
  const { kiln } = kilnFields();
  const { at, for: time } = heatTyped();
  const way = inBath() ? { volts: `${byId("heat-volts").value}V` } : { at, for_: time };
  return { verb: "tint", given: { metal: metal().key, ...way }, files: kiln && !inBath() ? { coupons: { name: "kiln.json", text: kiln } } : {} };
}

function toBeExpected(tint) {
  return `to be expected: ${tint.names[0] ? `${tint.names[0].name} (${percent(tint.names[0].probability)}), ` : ""}${span(tint.interval90_nm)} of ${tint.oxide}`;
}

function cautions(list) {
  if (!list.length) return null;
  return el("div", { class: "caution" }, el("strong", {}, inBath() ? "Before you switch on" : "Before you heat"),
    el("ul", {}, list.map((one) => el("li", {}, sentence(one)))));
}

const findHeats = newest(async () => {
  const want = byId("heat-want").value.trim();
  const told_ = teller(byId("heat-want-status"));
  if (!want) {
    told_.clear();
    return;
  }
  const time = byId("heat-want-for").value;
  const way = inBath() ? { anodise: true } : { for: time ? [time] : [], ...kilnFields() };
  const fields = { metal: metal().key, want, ...way };
  if (JSON.stringify(fields) === answered) return; // leaving the field and the button ask alike
  const [bath, typed] = [inBath(), wantTyped()];
  told_.busy(bath ? "Looking for voltages …" : "Looking for heats …");
  const { answer } = await ask("recipes", fields);
  told_.clear();
  if (bath !== inBath()) return; // the other way was chosen meanwhile, and is asked for next
  answered = JSON.stringify(fields);
  showRecipes(answer, typed);
  reveal("heat-recipes", byId("heat-want-form"));
}, (error) => {
  answered = "";
  fill(byId("heat-recipes"));
  teller(byId("heat-want-status")).refused(error);
});

function showRecipes(found, typed) {
  const near = found.nearest;
  showInWell(byId("heat-want"), (found.recipes[0] ?? near).srgb_hex);
  if (!found.recipes.length) {
    fill(byId("heat-recipes"), el("div", { class: "empty" },
      el("strong", {}, found.attainable ? "Nothing within the law’s range gives it"
        : `${found.oxide} on ${found.metal_name} does not show ${found.want}`),
      el("p", {}, found.attainable ? (inBath() ? "Try another colour near it." : "Allow another time.") : "The nearest it has: "),
      found.attainable ? null : named(near.srgb_hex, near.name)));
    return;
  }
  fill(byId("heat-recipes"), el("ul", { class: "cards" }, found.recipes.map((one) => {
    const heat = one.volts === null ? `${Math.round(one.temperature_C)} °C for ${minutes(one.time_min)}`
      : `${Number(one.volts.toFixed(1))} V`;
    return el("li", { class: "card" }, el("span", { class: "patch tall", colour: one.srgb_hex, "aria-hidden": "true" }),
      el("div", { class: "card-words" }, el("strong", {}, heat),
        el("span", {}, one.name, " ", el("span", { class: "hex" }, one.srgb_hex))),
      el("button", { type: "button", class: "plain", onclick: () => setHeat(one), "aria-label": `Set the sliders to ${heat}` }, "Set"),
      el("span", { class: "hint card-more" }, `${one.order === null ? "scale" : `${ordinal(one.order)} order`}, ${Math.round(one.thickness_nm)} nm; ${percent(one.chance)} of pieces come out this colour${touch(one.spread)}`));
  })), exportRow(typed, found));
}

/** The question for a colour as the command line is asked it. */
function wantTyped() {
  const time = byId("heat-want-for").value;
  const way = inBath() ? { anodise: true } : { for_: time || null };
  const { verb, given, files } = asTyped();
  return { verb, given: { metal: given.metal, want: byId("heat-want").value.trim(), ...way }, files };
}

function touch(spread) {
  if (!spread) return "";
  return { easy: "; forgiving of 10 °C", fair: "; mind the temperature", touchy: "; 10 °C off is another colour" }[spread.rating];
}

function setHeat(recipe) {
  if (recipe.volts === null) {
    byId("heat-at").value = recipe.temperature_C;
    byId("heat-for").value = slotOf(recipe.time_min);
  } else {
    byId("heat-volts").value = recipe.volts;
  }
  moved();
  byId("heat-title").scrollIntoView({ block: "start" });
}
