// From colour to thickness: a colour or a place on a photo, every thickness it could be, a map.

import { sayAnswer, sayBusy } from "./answer_line.js";
import { ask, newest, teller, whileBusy } from "./ask.js";
import { colourField, patch, showInWell } from "./colour.js";
import { densityChart } from "./chart.js";
import { showExample } from "./example.js";
import { exportRow } from "./exports.js";
import { keepAlso } from "./keep.js";
import { GUEST, TOUCH, byId, el, fill, fillEmpty, ordinal, percent, sentence, span } from "./dom.js";
import { MarkedPhoto } from "./photo.js";
import { carryToLog } from "./log.js";
import { nextLooks } from "./next_looks.js";
import { reveal } from "./order.js";
import { rowPanel } from "./row.js";
import { showVerbs } from "./verbs.js";

const FILMS = [
  ["Titanium, tinted", "TiO2", "Ti"],
  ["Steel, tempered", "Fe3O4, Fe2O3", "steel"],
  ["Silica on silicon", "SiO2", "Si"],
  ["Golden slide", "TiO2", "glass 1mm"],
];
const HAVE = ["meter", "spectrometer"];
// Each word with a colour that titanium shows by that name, at 16, 21, 28, 38, 45, 51 and 61 nm of oxide.
const WORDS = [["straw", "#bca984"], ["gold", "#b2965a"], ["bronze", "#9e6e18"], ["purple", "#6d3173"],
  ["dark blue", "#3c4fa1"], ["blue", "#3178b8"], ["light blue", "#6ea7cb"]];

const OPENS = { // where the answer to a look proposed is entered
  "measure its reflectance spectrum": () => openForm("spectrum"),
  "photograph it square on beside a white card or bare metal": () => {
    byId("thickness-way").querySelector("[value=photo]").click();
    byId("thickness-photo").scrollIntoView({ block: "center" });
    byId("thickness-photo").querySelector("input, button").focus({ preventScroll: true });
  },
  "read the spot with a colour meter": () => {
    byId("thickness-more").open = true;
    byId("thickness-how").value = "instrument";
    byId("thickness-seen").focus();
  },
  "look at the same spot tilted to 60°": () => openLook("tilted"),
  "read the colour seen through the piece": () => openLook("through"),
  "heat it a little further and see which colour comes next": () => openForm("gauge"),
  "see with a meter whether the film conducts": () => openForm("gauge"),
};

let told;
let photo;

function openLook(name) {
  byId("thickness-more").open = true;
  byId(`thickness-${name}`).focus();
}

async function openForm(verb) {
  const part = byId("thickness").querySelector("details.every");
  await showVerbs(part);
  part.open = true;
  byId(`every-${verb}`).open = true;
  byId(`every-${verb}`).scrollIntoView({ block: "start" });
}

/** Set the room up. */
export function openThickness() {
  told = teller(byId("thickness-status"));
  photo = new MarkedPhoto(byId("thickness-photo"), told, { changed, moved: () => { if (ready()) glance(); } });
  byId("thickness-starts").append(...FILMS.map(([words, film, on]) => el("button", {
    type: "button", class: "chip",
    onclick: () => {
      byId("thickness-film").value = film;
      byId("thickness-on").value = on;
      changed();
    },
  }, words)));
  byId("thickness-words").append(...WORDS.map(([word, hex]) => el("button", {
    type: "button", class: "chip", onclick: () => { byId("thickness-seen").value = word; changed(); },
  }, patch(hex, "dot"), word)));
  for (const id of ["seen", "tilted", "through", "behind"]) colourField(byId(`thickness-${id}`), changed);
  for (const id of ["film", "on", "how", "between", "finish", "ohms", ...HAVE.map((one) => `have-${one}`)]) byId(`thickness-${id}`).addEventListener("change", changed);
  for (const radio of byId("thickness-way").querySelectorAll("input")) radio.addEventListener("change", changed);
  keepAlso("thickness", {
    get: () => ({ photo: way() === "photo" ? photo.written() : "" }),
    set: async (held) => { if (held.get("photo")) await photo.resume(held.get("photo")); },
  });
  changed();
  return () => showExample("thickness-answer", "“purple” on tinted titanium.", async () => {
    const { answer, drawing } = await ask("gauge", { film: "TiO2", on: "Ti", seen: ["purple"], between: "0..250nm" });
    return estimateParts(answer, drawing);
  });
}

function way() {
  return byId("thickness-way").querySelector(":checked").value;
}

function question() {
  const value = (id) => byId(`thickness-${id}`).value.trim();
  const listed = (id) => (value(id) ? [value(id)] : []);
  const tilted = listed("tilted").map((text) => `${text} angle=60`);
  const fields = {
    film: value("film"), on: value("on"), how: value("how"), between: value("between"), finish: value("finish"), ohms: value("ohms"),
    seen: tilted, through: listed("through"), behind: listed("behind"),
    have: HAVE.map((one) => byId(`thickness-have-${one}`)).filter((box) => box.checked).map((box) => box.value),
  };
  if (way() === "photo") Object.assign(fields, photo.fields());
  else fields.seen = [...listed("seen"), ...tilted];
  return fields;
}

function ready() {
  return way() === "photo" ? Boolean(photo.photo && photo.places.patch)
    : ["seen", "through", "behind", "ohms"].some((id) => byId(`thickness-${id}`).value.trim() !== "");
}

function changed() {
  byId("thickness-photo").hidden = way() !== "photo";
  byId("thickness-colour").hidden = way() === "photo";
  byId("thickness-map").hidden = GUEST || !(way() === "photo" && photo.photo);
  if (!byId("thickness-map").hidden) offerMap();
  if (ready()) {
    refresh();
    return;
  }
  told.clear();
  sayAnswer("thickness", "thickness-answer", null);
  fillEmpty(byId("thickness-answer"), "No colour yet", way() === "photo" ? photoWords()
    : "Write or pick the colour you saw, and every thickness it could be appears here.");
}

function photoWords() {
  if (!photo.photo) return `${TOUCH ? "Take" : "Drop"} a photo, mark the white card and the spot, and the thickness appears here.`;
  return "Mark the white card and the spot on the photo, and the thickness appears here.";
}

/** The estimate while a mark is dragged; what to do next waits until it is let go. */
const glance = newest(async () => {
  const asked = question();
  const { answer, drawing } = await ask("glance", asked);
  if (photo.dragged) showGlance(answer, drawing, asked);
}, () => {}); // what is wrong with a place is said where the mark is let go

const UNEVEN = [1, 2, 0.5]; // how uneven the places under a drag may be, against the one that was read
let prepared = ""; // what a drag was prepared for

/** Have ready what a drag will need, as long as none has begun. */
async function prepareDrag() {
  const key = `${rampKey(question())}|${photo.photo?.name}`;
  if (way() !== "photo" || key === prepared) return;
  prepared = key;
  for (const noise of UNEVEN) {
    if (photo.dragged || !ready()) return;
    await ask("glance", { ...question(), noise }).catch(() => {}); // what is wrong was said already
  }
}

const refresh = newest(async () => {
  if (!ready() || photo.dragged) return;
  told.busy("Weighing every film in question …");
  sayBusy("thickness", "thickness-answer", "Weighing every film in question …");
  byId("thickness-answer").setAttribute("aria-busy", "true");
  const asked = question();
  const { answer, drawing } = await ask("gauge", asked);
  if (photo.dragged) return;
  rest();
  if (!ready()) return; // the photo was put away meanwhile
  showAnswer(answer, drawing, asked);
  prepareDrag();
}, (error) => {
  rest();
  if (!ready()) return;
  fillEmpty(byId("thickness-answer"), "No answer", "What was entered cannot be used yet.");
  sayAnswer("thickness", "thickness-status", `No answer: ${error.message}`);
  told.refused(error);
});

/** Say no more that anything is weighed. */
function rest() {
  told.clear();
  byId("thickness-answer").removeAttribute("aria-busy");
}

/** A candidate's thickness; one without an upper end is "at least" so thick. */
function thickness(one) {
  return `${one.interval90_nm[1] === null ? "at least " : ""}${Math.round(one.thickness_nm)} nm`;
}

/** Its interference order; a metal has none. */
function order(one) {
  return one.order === null ? "" : `, ${ordinal(one.order)} order`;
}

function lead(answer, [told]) {
  const [first, ...others] = answer.candidates;
  if (!answer.fits) {
    return `Nothing fits: no film in question shows this colour. The least unlikely would be ${Math.round(first.thickness_nm)} nm.`;
  }
  const said = (one) => `${thickness(one)} (${percent(one.probability)})`;
  const open = first.interval90_nm[1] === null;
  const head = `${open ? thickness(first) : `About ${thickness(first)}, ${parts(told)} nm`}${order(first)}, ${percent(first.probability)}`;
  if (!others.length) return `${head}.`;
  const rest = others.slice(0, 3).map(said);
  const last = rest.pop();
  return `${head}; it could also be ${rest.length ? `${rest.join(", ")} or ${last}` : last}.`;
}

/** The answer in the fewest words: what is read above a phone's tab bar. */
function shortly(answer, [told]) {
  const [first] = answer.candidates;
  if (!answer.fits) return "Nothing fits";
  const within = first.interval90_nm[1] === null ? "" : `, ${parts(told)}`;
  return `${thickness(first)}${within}${order(first).replace(",", " ·")}`;
}

let ramp = null; // the colours under the last chart, and the question they are of

/** What a ramp of colours depends on. */
function rampKey({ film, on, between }) {
  return [film, on, between].join("|");
}

/** The sentence, its chart where the colours below it are known, and the candidates. */
function estimateParts(answer, drawing) {
  return [el("p", { class: "lead" }, lead(answer, drawing.told_nm)), drawing.srgb_hex ? densityChart(drawing, answer) : null,
    el("ul", { class: "cards" }, answer.candidates.map((one, i) => candidate(one, drawing.told_nm[i], drawing.seen_hex[0])))];
}

function sayShortly(answer, drawing) {
  sayAnswer("thickness", "thickness-answer", shortly(answer, drawing.told_nm), [drawing.seen_hex[0], answer.candidates[0].srgb_hex].filter(Boolean));
}

function showGlance(answer, drawing, asked) {
  const colours = ramp && ramp.key === rampKey(asked) ? ramp.drawing : {};
  told.clear();
  byId("thickness-answer").removeAttribute("aria-busy");
  sayShortly(answer, drawing);
  fill(byId("thickness-answer"), estimateParts(answer, { ...colours, ...drawing }));
}

function showAnswer(answer, drawing, asked) {
  ramp = { key: rampKey(asked), drawing };
  sayShortly(answer, drawing);
  const seen = drawing.seen_hex[0];
  if (way() === "colour" && byId("thickness-seen").value.trim()) showInWell(byId("thickness-seen"), seen);
  fill(byId("thickness-answer"), estimateParts(answer, drawing),
    nextLooks(answer, OPENS),
    answer.warnings.length ? el("ul", { class: "notes" }, answer.warnings.map((one) => el("li", {}, sentence(one)))) : null,
    el("details", {}, el("summary", {}, "What this rests on"), el("ul", { class: "notes" },
      el("li", {}, `All candidates together: 90 % within ${span(answer.interval90_nm)}.`),
      Object.entries(answer.films).map(([film, share]) => el("li", {}, `${film}: ${percent(share)}.`)),
      el("li", {}, `Optical data: ${answer.data_sets.join(", ")}.`))),
    exportRow(asTyped(asked), answer, () => ({ on: asked.on, seen: seen ?? "", answer: `${asked.film}: ${shortly(answer, drawing.told_nm)}`, photo: asked.photo ?? null })));
}

/** A question as the command line is asked it. */
function asTyped({ photo: name, ...given }) {
  return { verb: "gauge", given: { ...given, how: given.how || null, have: given.have.join(",") }, photo: name ?? null };
}

/** Where a candidate lies: its interval, or the parts of it that are likely at all. */
function parts(told) {
  return told.map((one) => span(one).replace(/ nm$/, "")).join(" or ");
}

function candidate(one, told, seen) {
  return el("li", { class: "card" },
    el("span", { class: "half", "aria-hidden": "true" }, el("span", { colour: seen ?? one.srgb_hex }), el("span", { colour: one.srgb_hex })),
    el("div", { class: "card-words" }, el("strong", {}, thickness(one)),
      el("span", {}, `${percent(one.probability)}${order(one)}; 90 % within ${parts(told)} nm`),
      el("span", { class: "hint" }, ...(seen ? ["seen ", el("span", { class: "hex" }, seen), "; "] : []), `${one.film} shows ${one.name} `,
        el("span", { class: "hex" }, one.srgb_hex))));
}

function offerMap() {
  const panel = byId("thickness-map");
  if (panel.dataset.photo === photo.photo.name) return;
  panel.dataset.photo = photo.photo.name;
  const box = el("div", { "aria-live": "polite", id: "map-answer" });
  const line = el("p", { class: "status", role: "status" });
  const button = el("button", { type: "button", onclick: () => whileBusy(button, () => drawMap(teller(line), box)) }, "Map the whole piece");
  fill(panel, rowPanel(() => fieldsOfPhoto(), () => photo.row(), (words) => ({ on: byId("thickness-on").value, answer: `a row of spots: ${words}`, photo: photo.photo.name })), el("h2", {}, "Thickness everywhere"),
    el("p", { class: "hint" }, "Every pixel is gauged with the film, the base and the white card set in the form. An even grey around the piece is left out; on any other ground, draw round the piece first."),
    el("div", { class: "row" }, button), line, box);
}

/** What the whole photo is asked with: film, base and references, without the looks at one spot. */
function fieldsOfPhoto() {
  const { seen, through, behind, patch, ohms, have, ...fields } = question();
  return fields;
}

async function drawMap(told_, box) {
  told_.busy("Gauging every colour of the picture …");
  try {
    const fields = { ...fieldsOfPhoto(), ...photo.piece() };
    const { answer, headline, drawing } = await ask("map", fields);
    const { mapView } = await import("./map_view.js"); // most pages never need it
    told_.clear();
    showMap(answer, headline, mapView(drawing, `/api/photo/${fields.photo}/preview`, `Map of thickness. ${headline}`), box, fields);
    reveal("map-answer", byId("thickness-map"));
  } catch (error) {
    told_.refused(error);
  }
}

function showMap(answer, words, view, box, { photo: name, ...given }) {
  const at = `/api/photo/${name}/map`;
  const fresh = Date.now(); // a new map has the same address
  fill(box, el("p", { class: "lead" }, words),
    el("p", { class: "hint" }, `${percent(answer.share_fitted)} of the ${answer.piece ? "place of the piece" : "picture"} has a thickness; the rest is left out.`),
    ...view,
    el("p", { class: "row" }, [["thickness.tiff", "Numbers (TIFF)"], ["map.png", "Map"], ["histogram.png", "Histogram"],
      ["summary.json", "Summary"]].map(([file, said]) => el("a", { href: `${at}/${file}?${fresh}`, download: file }, said))),
    answer.notes.length ? el("ul", { class: "notes" }, answer.notes.map((one) => el("li", {}, sentence(one)))) : null,
    exportRow({ verb: "map", given: { ...given, how: given.how || null }, photo: name }, answer,
      () => ({ on: given.on, answer: `map: ${words}`, photo: name })));
}
