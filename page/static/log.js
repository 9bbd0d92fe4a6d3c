// The run log: what was done and seen, newest first; recording; and what to do next.

import { sayAnswer, sayBusy } from "./answer_line.js";
import { ask, newest, sendLog, sendPhoto, teller } from "./ask.js";
import { drawDocument, headlineOf } from "./blocks.js";
import { colourField, patch } from "./colour.js";
import { GUEST, byId, el, fill } from "./dom.js";
import { exportRow } from "./exports.js";
import { keepAlso, writeAddress } from "./keep.js";
import { leadWith, reveal } from "./order.js";
import { drawPhotos, hexOf, pieceCard, pieceNamed, piecesOf, presentLink, showCarried, showPiece } from "./pieces.js";

const RUN = ["setup", "kind", "metal", "at", "time", "current", "like", "piece", "on", "seen", "ohms", "thickness", "remark"];

const UNSHOWN = new Set(["photo", "link"]); // of a run in the list; its piece shows them

let told;
let runs = []; // as they were read last
let carried = null; // an answer, and its photo, that goes with the next record
let opened = ""; // the piece that is shown

/** Set the room up; the log is read when it is first shown. */
export function openLog() {
  told = teller(byId("log-status"));
  for (const name of ["record", "next"]) byId(`log-to-${name}`).addEventListener("click", () => goTo(name));
  byId("log-form").addEventListener("submit", (event) => { event.preventDefault(); record(); });
  byId("log-next-form").addEventListener("submit", (event) => { event.preventDefault(); advise(); });
  byId("log-learn").addEventListener("click", () => learn());
  byId("log-kind").addEventListener("change", chooseKind);
  colourField(byId("log-seen"), () => {});
  byId("log-file-in").addEventListener("change", () => add(byId("log-file-in").files[0]));
  byId("log-into").addEventListener("change", chooseKind);
  keepAlso("log", { get: () => ({ piece: opened }), set: async (held) => { opened = held.get("piece") ?? ""; await refresh(); } });
  document.addEventListener("recorded", () => refresh());
  chooseKind();
  return refresh;
}

/** To a form below the runs; its first field is ready to be filled in. */
function goTo(name) {
  const form = byId(name === "record" ? "log-form" : "log-next-form");
  form.scrollIntoView({ block: "start" });
  form.querySelector("input, select").focus({ preventScroll: true });
}

/** A chamber has a current, a kiln or flame a temperature; a run that is held has all of it. */
function chooseKind() {
  const fresh = byId("log-into").value === "";
  const chamber = byId("log-kind").value === "chamber";
  for (const name of ["setup", "kind", "metal", "time", "like"]) byId(`log-${name}`).closest("label").hidden = !fresh;
  byId("log-at").closest("label").hidden = !fresh || chamber;
  byId("log-current").closest("label").hidden = !fresh || !chamber;
}

/** Take what another room found to the form of a run, ready to be recorded. */
export function carryToLog({ answer, photo, ...fields }) {
  for (const [name, text] of Object.entries(fields)) byId(`log-${name}`).value = text;
  carried = answer ? { answer, photo, link: presentLink() } : null;
  showCarried(carried, leaveOut);
  chooseKind();
  location.hash = "log";
  byId("log-setup").focus();
}

function leaveOut() {
  if (byId("log-carried").contains(document.activeElement)) byId("log-setup").focus();
  carried = null;
  showCarried(null);
}

/** The form set to a piece of a run that is held. */
function addTo(run, name) {
  byId("log-into").value = `${run.run}`;
  byId("log-piece").value = name;
  chooseKind();
  byId("log-seen").focus();
}

/** Show a piece, or none. */
function openPiece(key) {
  opened = key;
  const box = byId("log-piece-open");
  const piece = key ? pieceNamed(runs, key) : null;
  box.hidden = !piece;
  if (piece) showPiece(box, piece, { add: addTo, close: () => { openPiece(""); writeAddress(); byId("log-pieces").querySelector("button")?.focus(); } });
}

const failed = (error) => {
  sayAnswer("log", "log-status", error.message);
  told.refused(error);
};

const refresh = newest(async () => {
  const { answer } = await ask("log", {});
  fill(byId("log-setups"), answer.setups.map((one) => el("option", { value: one.setup })));
  runs = answer.runs;
  const into = byId("log-into").value;
  fill(byId("log-into"), el("option", { value: "" }, "a new run"), runs.map((run) => el("option", { value: `${run.run}` }, `run ${run.run}, ${run.setup}`)));
  byId("log-into").value = runs.some((run) => `${run.run}` === into) ? into : "";
  chooseKind();
  const pieces = piecesOf(runs);
  byId("log-pieces-panel").hidden = !pieces.length;
  fill(byId("log-pieces"), pieces.map((one) => pieceCard(one, (piece) => { openPiece(piece.key); writeAddress(); byId("log-piece-open").scrollIntoView({ block: "nearest" }); })));
  openPiece(opened);
  leadWith("log-runs-panel", runs.length > 0);
  fill(byId("log-runs"), answer.runs.length ? answer.runs.map(entry)
    : el("li", { class: "empty" }, el("strong", {}, "Nothing recorded yet"),
      "Record a run and what came out; it is kept in a file and is here again at the next start. For example:",
      el("div", { class: "card example" }, el("div", { class: "card-words" }, el("strong", {}, "Run 1, shop kiln"), el("span", {}, "metal Ti, at 475 C, time 20min"),
        el("span", { class: "named" }, patch("#693177", "small"), el("span", {}, "seen purple ", el("span", { class: "hex" }, "#693177")))))));
  fill(byId("log-keep"), runs.length && !GUEST ? exportRow({ ask: "log", fields: {}, without: ["chart"] }) : null);
  byId("log-file").textContent = `Kept in ${answer.log}.`;
}, failed);

const record = newest(async () => {
  const texts = RUN.map((name) => [name, byId(`log-${name}`)]).filter(([, field]) => !field.closest("[hidden]:not(section)"));
  told.busy("Recording …");
  const into = byId("log-into").value;
  const fields = { ...Object.fromEntries(texts.map(([name, field]) => [name, field.value])), ...carried, ...(into ? { run: Number(into) } : {}) };
  fields.like = Number(fields.like) || null;
  const [photo] = byId("log-photo").files;
  if (photo) fields.photo = (await sendPhoto(photo)).photo;
  const { answer } = await ask("record", fields);
  told.clear();
  sayAnswer("log", "log-runs-panel", into ? `Added to run ${answer.run}` : `Recorded as run ${answer.run}`);
  leaveOut();
  for (const name of ["seen", "ohms", "thickness", "remark", "like", "photo"]) byId(`log-${name}`).value = "";
  byId("log-seen").dispatchEvent(new Event("change")); // its well is empty, too
  await refresh();
  reveal("log-runs-panel", byId("log-form"));
}, failed);

const add = newest(async (file) => {
  if (!file) return;
  byId("log-file-in").value = "";
  told.busy("Adding it …");
  const { answer } = await sendLog(file);
  told.clear();
  sayAnswer("log", "log-runs-panel", answer.sentence);
  byId("log-status").textContent = answer.sentence;
  await refresh();
}, failed);

/** What the form asks about: a setup, and of which metal where there are several. */
const asked = (...more) => Object.fromEntries([["setup", "of"], ["metal", "of-metal"], ...more]
  .map(([name, field]) => [name, byId(`log-${field}`).value.trim()]).filter(([name, text]) => text || name === "setup"));

/** Ask what the runs teach, or what next, and show it as the document it is. */
const weigh = (question, box, ...more) => newest(async () => {
  told.busy("Learning from the runs …");
  const fields = asked(...more);
  const { answer } = await ask(question, fields);
  told.clear();
  sayAnswer("log", box, headlineOf(answer));
  const { chartPicture } = await import("./chart_picture.js"); // no part of the first page
  fill(byId(box), drawDocument(answer), answer.charts.map((one) => chartPicture(one, one.caption)), exportRow({ ask: question, fields, without: answer.charts.length ? [] : ["chart"] }));
  reveal(box, byId("log-next-form"));
}, (error) => { fill(byId(box)); failed(error); });

const advise = weigh("next", "log-next", ["want", "want"], ["base_pressure", "base"]);
const learn = weigh("learn", "log-learnt");

/** Photos of a run are drawn once its card comes into view: a long log has many. */
const inView = new IntersectionObserver((found) => {
  for (const { isIntersecting, target } of found) {
    if (!isIntersecting) continue;
    inView.unobserve(target);
    drawPhotos(target, target.looks, target.dataset.alt);
  }
});

function photosOf(run) {
  const looks = run.pieces.flatMap((piece) => piece.observations).filter((one) => one.what === "photo");
  if (!looks.length) return null;
  const box = el("span", { class: "run-photos", "data-alt": `Photo of run ${run.run}` });
  box.looks = looks;
  inView.observe(box);
  return box;
}

function entry(run) {
  const done = Object.entries(run.done).map(([what, text]) => `${what.replaceAll("_", " ")} ${text}`).join(", ");
  return el("li", { class: "card" }, el("div", { class: "card-words" },
    el("strong", {}, `Run ${run.run}, ${run.setup}`), el("span", {}, done),
    run.pieces.map((piece) => el("span", { class: "suspect-looks" }, piece.observations.filter((one) => !UNSHOWN.has(one.what)).map((one) =>
      el("span", { class: "named" }, one.srgb_hex && patch(one.srgb_hex, "small"),
        el("span", {}, `${one.what} ${one.text}`, hexOf(one)))))),
    photosOf(run),
    el("span", { class: "hint" }, new Date(run.at).toLocaleString("en-GB", { dateStyle: "medium", timeStyle: "short" }))));
}
