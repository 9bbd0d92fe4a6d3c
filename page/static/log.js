// The run log: what was done and seen, newest first; recording; and what to do next.

import { sayAnswer } from "./answer_line.js";
import { ask, newest, teller } from "./ask.js";
import { colourField, patch } from "./colour.js";
import { byId, el, fill, saveText, sentence } from "./dom.js";

const RUN = ["setup", "kind", "metal", "at", "time", "current", "piece", "on", "seen", "ohms", "thickness", "remark"];

let told;

/** Set the room up; the log is read when it is first shown. */
export function openLog() {
  told = teller(byId("log-status"));
  byId("log-form").addEventListener("submit", (event) => { event.preventDefault(); record(); });
  byId("log-next-form").addEventListener("submit", (event) => { event.preventDefault(); advise(); });
  byId("log-kind").addEventListener("change", chooseKind);
  colourField(byId("log-seen"), () => {});
  byId("log-save").addEventListener("click", () => save());
  byId("log-file-in").addEventListener("change", () => add(byId("log-file-in").files[0]));
  chooseKind();
  return refresh;
}

/** A chamber has a current, a kiln or flame a temperature. */
function chooseKind() {
  const chamber = byId("log-kind").value === "chamber";
  byId("log-at").parentElement.hidden = chamber;
  byId("log-current").parentElement.hidden = !chamber;
}

/** Take what another room found to the form of a run, ready to be recorded. */
export function carryToLog(fields) {
  for (const [name, text] of Object.entries(fields)) byId(`log-${name}`).value = text;
  chooseKind();
  location.hash = "log";
  byId("log-setup").focus();
}

const failed = (error) => {
  sayAnswer("log", "log-status", error.message);
  told.refused(error);
};

const refresh = newest(async () => {
  const { answer } = await ask("log", {});
  fill(byId("log-setups"), answer.setups.map((one) => el("option", { value: one.setup })));
  fill(byId("log-runs"), answer.runs.length ? answer.runs.map(entry)
    : el("li", { class: "empty" }, el("strong", {}, "Nothing recorded yet"),
      "Record a run and what came out; it is kept in a file and is here again at the next start. For example:",
      el("div", { class: "card example" }, el("div", { class: "card-words" }, el("strong", {}, "Run 1, shop kiln"), el("span", {}, "metal Ti, at 475 C, time 20min"),
        el("span", { class: "named" }, patch("#693177", "small"), el("span", {}, "seen purple"))))));
  byId("log-file").textContent = `Kept in ${answer.log}.`;
}, failed);

const record = newest(async () => {
  const texts = RUN.map((name) => [name, byId(`log-${name}`)]).filter(([, field]) => !field.closest("[hidden]:not(section)"));
  told.busy("Recording …");
  const { answer } = await ask("record", Object.fromEntries(texts.map(([name, field]) => [name, field.value])));
  told.clear();
  sayAnswer("log", "log-runs-panel", `Recorded as run ${answer.run}`);
  for (const name of ["seen", "ohms", "thickness", "remark"]) byId(`log-${name}`).value = "";
  refresh();
}, failed);

const save = newest(async () => {
  const { lines } = await ask("export", {});
  saveText(lines, "oxhue-log.jsonl", "application/jsonl");
}, failed);

const add = newest(async (file) => {
  if (!file) return;
  byId("log-file-in").value = "";
  const { answer } = await ask("import", { lines: await file.text() });
  told.clear();
  sayAnswer("log", "log-runs-panel", answer.sentence);
  byId("log-status").textContent = answer.sentence;
  await refresh();
}, failed);

const advise = newest(async () => {
  told.busy("Learning from the runs …");
  const { words } = await ask("next", { setup: byId("log-of").value, want: byId("log-want").value });
  told.clear();
  sayAnswer("log", "log-next", words.headline);
  fill(byId("log-next"), el("p", { class: "lead" }, sentence(words.headline)),
    el("ul", { class: "notes" }, words.lines.map((one) => el("li", {}, sentence(one)))));
}, failed);

function entry(run) {
  const done = Object.entries(run.done).map(([what, text]) => `${what.replaceAll("_", " ")} ${text}`).join(", ");
  return el("li", { class: "card" }, el("div", { class: "card-words" },
    el("strong", {}, `Run ${run.run}, ${run.setup}`), el("span", {}, done),
    run.pieces.map((piece) => el("span", { class: "suspect-looks" }, piece.observations.map((one) =>
      el("span", { class: "named" }, one.srgb_hex && patch(one.srgb_hex, "small"),
        el("span", {}, `${one.what} ${one.text}`))))),
    el("span", { class: "hint" }, new Date(run.at).toLocaleString("en-GB", { dateStyle: "medium", timeStyle: "short" }))));
}
