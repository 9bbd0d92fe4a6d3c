// A piece: all that the run log holds of it, its photos, heats, looks and answers, in one place.

import { ask, Refused } from "./ask.js";
import { patch } from "./colour.js";
import { GUEST, byId, el, fill, sentence } from "./dom.js";

const NAMELESS = "piece"; // what a piece is called where it was not named: each run has its own
const WORDS = { seen: "Seen", behind: "From behind", through: "Seen through", ohms: "Ohmmeter", thickness: "Thickness measured",
  finish: "Finish", wipe: "Wiped", scratch: "Scratched", warmed: "Warmed", weight: "Weighed", spectrum: "Spectrum", remark: "Remark" };

/** The colour of a look in numbers, where its words do not say it already. */
export function hexOf(one) {
  if (!one.srgb_hex || one.text === one.srgb_hex) return null;
  return el("span", { class: "hex" }, ` ${one.srgb_hex}`);
}

/** The pieces of all runs, the one touched last first: { key, name, runs: [{ run, piece }] }. */
export function piecesOf(runs) {
  const found = new Map();
  for (const run of runs) {
    for (const piece of run.pieces) {
      const key = piece.name === NAMELESS ? `${NAMELESS} of run ${run.run}` : piece.name;
      if (!found.has(key)) found.set(key, { key, name: piece.name, runs: [] });
      found.get(key).runs.push({ run, piece });
    }
  }
  return [...found.values()];
}

/** Everything noted of a piece, oldest first, each with its run. */
function notedOf(piece) {
  return [...piece.runs].reverse().flatMap(({ run, piece: held }) => held.observations.map((one) => ({ ...one, run })));
}

/** A piece as one card of a list, which opens it. */
export function pieceCard(piece, open) {
  const noted = notedOf(piece);
  const colours = noted.filter((one) => one.srgb_hex);
  const last = noted.findLast((one) => one.what === "answer") ?? noted.findLast((one) => one.what in WORDS);
  return el("li", { class: "card" },
    el("span", { class: "half", "aria-hidden": "true" }, [colours[0], colours.at(-1)].map((one) => el("span", { colour: one?.srgb_hex }))),
    el("div", { class: "card-words" }, el("strong", {}, piece.key),
      el("span", { class: "hint" }, `${piece.runs.map(({ run }) => `run ${run.run}, ${run.setup}`).join("; ")}`),
      last && el("span", {}, last.what === "answer" ? last.text : `${WORDS[last.what]}: ${last.text}`)),
    el("button", { type: "button", class: "plain small", "aria-label": `Open ${piece.key}`, onclick: () => open(piece) }, "Open"));
}

/** The whole piece, drawn into a box; `add(run, name)` prepares the form for what is new of it. */
export function showPiece(box, piece, { add, close }) {
  const noted = notedOf(piece);
  const newest = piece.runs[0];
  const photos = el("div", { class: "piece-photos" });
  fill(box, el("h2", { tabindex: "-1" }, sentence(piece.key).slice(0, -1)),
    photos,
    el("dl", { class: "piece-facts" }, facts(piece, noted)),
    answers(noted),
    el("div", { class: "row" },
      el("a", { class: "button", href: gaugeLink(piece, noted) }, "How thick is it?"),
      el("a", { class: "button", href: assayLink(piece, noted) }, "What is it?"),
      el("button", { type: "button", onclick: () => add(newest.run, piece.name) }, "Add what came out")),
    el("div", { class: "row" },
      GUEST || piece.name === NAMELESS ? null : el("a", { class: "button small", href: `/api/log/file?piece=${encodeURIComponent(piece.name)}`, download: "oxhue-piece.zip" }, "Save this piece as one file"),
      el("button", { type: "button", class: "plain small", onclick: close }, "Close")));
  box.querySelector("h2").focus({ preventScroll: true });
  drawPhotos(photos, noted);
}

function row(term, ...parts) {
  return el("div", {}, el("dt", {}, term), el("dd", {}, ...parts));
}

function facts(piece, noted) {
  const done = [...piece.runs].reverse().map(({ run }) => row(`Run ${run.run}, ${run.setup}, ${day(run.at)}`,
    Object.entries(run.done).map(([what, text]) => `${what.replaceAll("_", " ")} ${text}`).join(", ") || "nothing noted of the run"));
  const made = piece.runs[0].piece.facts.on;
  return [made ? row("Made of", made) : null, ...done, ...noted.filter((one) => one.what in WORDS).map((one) => row(WORDS[one.what],
    el("span", { class: "named" }, one.srgb_hex ? patch(one.srgb_hex, "small") : null, el("span", {}, one.text, hexOf(one)),
      one.at ? el("span", { class: "hint" }, day(one.at)) : null)))];
}

function day(at) {
  return new Date(at).toLocaleDateString("en-GB", { dateStyle: "medium" });
}

/** Each answer with the way back to the room that gave it, as it was asked then. */
function answers(noted) {
  const lines = [];
  for (const one of noted) {
    if (one.what === "answer") lines.push({ words: one.text, link: null });
    else if (one.what === "link" && lines.length && !lines.at(-1).link) lines.at(-1).link = one.text;
  }
  if (!lines.length) return null;
  return el("ul", { class: "piece-answers" }, lines.map(({ words, link }) => el("li", {}, el("span", {}, sentence(words)),
    link && /^#[a-z]+(\?|$)/.test(link) ? el("a", { href: link }, "Open it as it was") : null)));
}

function latest(noted, what) {
  return noted.findLast((one) => one.what === what)?.text ?? "";
}

function address(room, fields) {
  const held = new URLSearchParams(Object.entries(fields).filter(([, text]) => text));
  return `#${room}?${held}`;
}

function gaugeLink(piece, noted) {
  const photo = latest(noted, "photo");
  const on = piece.runs[0].piece.facts.on;
  const way = photo ? { way: "photo", photo: JSON.stringify({ photo: { name: photo }, places: {} }) } : { "thickness-seen": latest(noted, "seen") };
  return address("thickness", { "thickness-on": on, ...way });
}

function assayLink(piece, noted) {
  const { run, piece: held } = piece.runs[0];
  return address("assay", { "assay-metal": run.setup_kind === "chamber" ? run.done.metal : "", "assay-on": held.facts.on, "assay-seen": latest(noted, "seen"),
    "assay-behind": latest(noted, "behind"), "assay-through": latest(noted, "through"), "assay-ohms": latest(noted, "ohms"),
    "assay-finish": latest(noted, "finish"), "assay-wipe": latest(noted, "wipe"), "assay-scratch": latest(noted, "scratch"), "assay-warmed": latest(noted, "warmed") });
}

/** The photos among looks, drawn into a box. */
export async function drawPhotos(box, noted, alt = "Photo of the piece") {
  const names = [...new Set(noted.filter((one) => one.what === "photo").map((one) => one.text))];
  for (const name of names) {
    try {
      const { photo } = await ask("take", { photo: name });
      box.append(el("img", { src: `/api/photo/${photo}/preview`, alt }));
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      box.append(el("p", { class: "hint" }, error.message));
    }
  }
}

/** The panel for a piece and what is shown in it; a promise that is kept when it is drawn. */
export function pieceNamed(runs, key) {
  return piecesOf(runs).find((one) => one.key === key) ?? null;
}

/** Where an answer was given, if its address can be kept. */
export function presentLink() {
  return location.hash.length < 1_900 ? location.hash : "";
}

/** What goes with the next record besides its fields: { answer, link, photo, hex }. */
export function showCarried(carried, drop) {
  const box = byId("log-carried");
  box.hidden = !carried;
  if (!carried) return;
  fill(box, el("strong", {}, "With it: "), carried.photo ? "the photo, and " : "", `“${carried.answer}” `,
    el("button", { type: "button", class: "plain small", onclick: drop }, "Leave it out"));
}
