// An answer to keep: as a report to print, a chart, tables, JSON, or the command that gives it.

import { ask, teller } from "./ask.js";
import { GUEST, el, fill, saveText } from "./dom.js";
import { carryToLog } from "./log.js";

const FACES = [["report", "Report", "text/html", ".html"], ["chart", "Chart", "image/svg+xml", ".svg"],
  ["csv", "Tables (CSV)", "text/csv", ".csv"]];

/**
 * Buttons that keep an answer. `question` is { verb, given, files, photo } as the command line
 * would be given it, or { ask, fields } of a question that the page alone has, `without` the faces
 * it lacks, `command` where that is known; `logged` what of it the run log is told, or null where it records nothing.
 */
export function exportRow(question, answer = null, logged = null) {
  const line = el("p", { class: "status", role: "status" });
  const told = teller(line);
  const called = `oxhue-${question.verb ?? question.ask}`;
  const face = (name) => (question.ask ? ask(question.ask, { ...question.fields, face: name })
    : ask(GUEST ? "keep" : "verb", { ...question, face: name }));
  const faces = FACES.filter(([name]) => !question.without?.includes(name));
  const attempt = (work) => async () => {
    told.busy("Getting it ready …");
    try {
      await work();
      told.clear();
    } catch (error) {
      told.refused(error);
    }
  };
  const button = (words, work) => el("button", { type: "button", class: "plain small", onclick: attempt(work) }, words);
  const typed = el("code", { class: "typed" });
  return el("div", { class: "exports" }, el("div", { class: "row" }, el("span", { class: "label" }, "Keep this"),
    faces.map(([name, words, type, end]) => button(words, async () =>
      saveText((await face(name))[name], `${called}${end}`, type))),
    button("JSON", async () => {
      const found = answer ?? (question.ask ? (await face("json")).json : (await face("page")).answer);
      saveText(`${JSON.stringify(found, null, 1)}\n`, `${called}.json`, "application/json");
    }),
    question.ask ? null : button("As a command", async () => fill(typed, question.command ?? (await face("page")).command)),
    logged && el("button", { type: "button", class: "plain small", onclick: () => carryToLog(logged()) }, "Record this")),
  typed, line);
}
