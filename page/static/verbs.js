// Every field of every question, as the command line has them; the forms come from the server.

import { ask, askLong, teller } from "./ask.js";
import { drawDocument, headlineOf } from "./blocks.js";
import { sayAnswer } from "./answer_line.js";
import { exportRow } from "./exports.js";
import { colourField } from "./colour.js";
import { el, fill } from "./dom.js";
import { reveal } from "./order.js";
import { photoHeld } from "./photo.js";

const WORDS = {
  look: "What it looks like", materials: "Materials and their data", tint: "From heat to colour", coupons: "Your own kiln",
  gauge: "From colour to thickness", map: "Map of a photo", spectrum: "From a spectrometer's file",
  assay: "What is it?", design: "What to deposit", sheet: "How to deposit it", chamber: "The gas in the jar",
  "log setup": "A jar, kiln or flame", "log run": "Record a run", "log saw": "Record what was seen", "log list": "All runs", "log show": "One run",
  "log learn": "What the runs teach", "log next": "What next?", "log undo": "Take back what was recorded last",
};
const COLOURS = new Set(["seen", "behind", "want", "before"]);
const LISTS = { film: "materials", on: "substrates" };

const drawn = new Map(); // promises of the forms of each room that was opened
let forms; // a promise of all forms, once somebody wants them

/** A verb's words as one, for names within the page. */
function inOne(verb) {
  return verb.replaceAll(" ", "-");
}

/** The forms of all verbs, by name. */
function allForms() {
  forms ??= ask("forms", {}).then(({ answer }) => new Map(answer.map((one) => [inOne(one.verb), one])));
  return forms;
}

/** Set up the "every option" part of each room: it is drawn when it is first opened. */
export function openVerbs() {
  for (const part of document.querySelectorAll("details.every")) {
    part.addEventListener("toggle", () => { if (part.open) showVerbs(part); }, { once: false });
  }
}

/** Draw the forms of one room, once; a promise that is kept when they are there. */
export function showVerbs(part) {
  if (!drawn.has(part)) drawn.set(part, drawForms(part));
  return drawn.get(part);
}

async function drawForms(part) {
  const known = await allForms();
  const names = part.dataset.verbs.split(" ");
  fill(part.querySelector(".every-forms"), names.map((name) => form(known.get(name), part.closest(".room").id)));
}

function form({ verb, words, example, fields, writes }, room) {
  const panels = [...new Set(fields.map((one) => one.panel))];
  const inputs = new Map(fields.map((one) => [one.name, field(verb, one)]));
  const of = (panel) => fields.filter((one) => one.panel === panel).map((one) => inputs.get(one.name).node);
  const status = el("p", { class: "status", role: "status" });
  const answer = el("div", { class: "panel every-answer", "aria-live": "polite", id: `${inOne(verb)}-every-answer` });
  const stop = el("button", { type: "button", class: "plain", hidden: true }, "Stop");
  const told = teller(status);
  let newest = 0; // which asking; another may be under way already
  const run = async (event) => {
    event.preventDefault();
    newest += 1;
    const mine = newest;
    if (!stop.hidden) stop.click(); // what was asked before is for nobody now
    const question = await asked(verb, inputs);
    told.busy("Working it out …");
    answer.setAttribute("aria-busy", "true");
    try {
      const found = await askLong("verb", question, (words) => { if (mine === newest) told.busy(words); }, stop);
      if (mine !== newest) return;
      told.clear();
      fill(answer, drawDocument(found.document), ...(writes ? [exportRow({ ...question, command: found.command, without: ["report", "chart", "csv"] }, found.answer)]
        : [picture(question, found), exportRow(question, found.answer)]));
      if (writes) document.dispatchEvent(new Event("recorded")); // once: asked again it would be another run
      sayAnswer(room, answer.id, headlineOf(found.document));
      reveal(answer.id, event.target);
    } catch (error) {
      if (mine !== newest) return;
      fill(answer);
      told.refused(error);
    } finally {
      if (mine === newest) answer.removeAttribute("aria-busy");
    }
  };
  const typed = example && `As typed: ${example}`;
  return el("details", { class: "verb", id: `every-${inOne(verb)}` }, el("summary", {}, WORDS[verb], el("span", { class: "hint" }, ` ${words}`)), answer,
    el("form", { onsubmit: run }, typed && el("p", { class: "hint" }, typed), el("div", { class: "pair" }, of("")),
      panels.filter(Boolean).map((panel) => el("details", {}, el("summary", {}, panel), el("div", { class: "pair" }, of(panel)))),
      el("div", { class: "row" }, el("button", {}, writes ? "Record" : "Answer"), stop), status));
}

/** The chart of an answer, drawn when it is asked for. */
function picture(question, found) {
  if (!found.document.figures.length) return null;
  const part = el("details", {}, el("summary", {}, "Chart"));
  part.addEventListener("toggle", async () => {
    const { chartPicture } = await import("./chart_picture.js"); // no part of the first page
    part.append(chartPicture(await ask("verb", { ...question, face: "chart" }), found.document.figures[0]));
  }, { once: true });
  return part;
}

/** A field with its node and what it holds: { node, read }. */
function field(verb, one) {
  const id = `${inOne(verb)}-every-${one.name}`;
  if (one.kind === "flag") {
    const box = el("input", { type: "checkbox", id });
    return { one, node: el("div", { class: "ticks" }, el("label", { title: one.help }, box, one.help.replace(/\.$/, ""))), read: () => box.checked };
  }
  if (one.kind === "photo") {
    return { one, node: el("p", { class: "hint" }, "The photo is the one sent in the room “From colour to thickness”."), read: () => null };
  }
  if (one.kind === "file") {
    const input = el("input", { type: "file", id });
    return { one, node: label(one, input), read: () => input.files[0] ?? null };
  }
  const attributes = { id, autocomplete: "off", autocapitalize: "none", required: one.needed, list: LISTS[one.name] };
  const input = one.kind === "texts" ? el("textarea", { ...attributes, rows: 2, placeholder: "one a line" })
    : el("input", { type: "text", ...attributes, placeholder: one.otherwise || one.metavar });
  const node = label(one, input);
  if (COLOURS.has(one.name) && one.kind === "text") colourField(input, () => {});
  return { one, node, read: () => (one.kind === "texts" ? input.value.split("\n").map((text) => text.trim()).filter(Boolean) : input.value.trim()) };
}

function label(one, input) {
  return el("label", {}, one.label, one.needed ? null : el("span", { class: "hint" }, " (optional)"), input, el("span", { class: "hint" }, one.help));
}

async function asked(verb, inputs) {
  const [given, files] = [{}, {}];
  for (const [name, { one, read }] of inputs) {
    const value = read();
    if (one.kind === "file") {
      if (value) files[name] = { name: value.name, text: await value.text() };
    } else if (one.kind !== "photo" && value && value.length !== 0) given[name] = value;
  }
  const takesPhoto = [...inputs.values()].some(({ one }) => one.kind === "photo") && (verb === "map" || given.patch);
  return { verb, given, files, photo: takesPhoto ? photoHeld() : null };
}
