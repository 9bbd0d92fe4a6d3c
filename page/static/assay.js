// What is it: everything noticed of a film, weighed together.

import { sayAnswer, sayBusy } from "./answer_line.js";
import { ask, newest, teller } from "./ask.js";
import { colourField, named } from "./colour.js";
import { showExample } from "./example.js";
import { exportRow } from "./exports.js";
import { byId, el, fill, fillEmpty, figure, percent, sentence, span } from "./dom.js";
import { nextRun } from "./remedies.js";

const TEXTS = ["ohms", "guess", "pressure", "rate", "wipe", "scratch", "warmed", "base_finish"];
const LISTS = ["seen", "behind", "through", "finish", "trouble"];
const SIDES = { front: "film side", back: "from behind", through: "seen through" };
const SHOWN = 0.005; // less likely ones only add lines
const INSULATES_OHM = 1e8; // a sheet beyond the reach of a hand meter
const STARTS = [
  ["A golden slide", { metal: "Ti", seen: "gold", through: "clear", ohms: "open" }],
  ["A grey mirror", { metal: "Al", seen: "silver", through: "opaque", ohms: "2ohm", finish: "mirror" }],
];

let told;

/** Set the room up. */
export function openAssay(choices) {
  told = teller(byId("assay-status"));
  const words = Object.fromEntries(choices.materials.map((one) => [one.name, one.words]));
  fill(byId("assay-metal"), el("option", { value: "unknown" }, "not known"),
    choices.assayed.map((name) => el("option", { value: name }, words[name] ? `${name}, ${words[name]}` : name)));
  byId("assay-metal").value = "Ti";
  fill(byId("assay-trouble"), el("option", { value: "" }, "nothing else"),
    choices.troubles.map((one) => el("option", { value: one }, one)));
  fill(byId("assay-finish"), el("option", { value: "" }, "not looked at"),
    choices.finishes.map((one) => el("option", { value: one }, one)));
  colourField(byId("assay-seen"), changed);
  colourField(byId("assay-behind"), changed);
  for (const id of ["metal", "on", "through", "finish", "trouble", ...TEXTS]) byId(`assay-${id}`).addEventListener("change", changed);
  byId("assay-starts").append(...STARTS.map(([said, told_]) => el("button", {
    type: "button", class: "chip",
    onclick: () => {
      for (const id of [...LISTS, ...TEXTS]) byId(`assay-${id}`).value = told_[id] ?? "";
      byId("assay-metal").value = told_.metal;
      byId("assay-on").value = "glass";
      changed();
    },
  }, said)));
  changed();
  return () => showExample("assay-answer", "a golden slide that lets light through and does not conduct, from a titanium wire.", async () => {
    const fields = { metal: "Ti", on: "glass", behind: [], finish: [], trouble: [], ohms: "open", seen: ["gold"], through: ["clear"] };
    return verdictParts((await ask("assay", fields)).answer);
  });
}

function question() {
  const value = (id) => byId(`assay-${id}`).value.trim();
  const fields = { metal: value("metal"), on: value("on") };
  for (const id of LISTS) fields[id] = value(id) ? [value(id)] : [];
  for (const id of TEXTS) fields[id] = value(id);
  return fields;
}

function anything(fields) {
  const made = fields.pressure && fields.rate;
  const around = ["pressure", "rate", "base_finish", "trouble"]; // no finding on the film by themselves
  return [...LISTS, ...TEXTS].some((id) => !around.includes(id) && fields[id].length) || made;
}

function changed() {
  if (anything(question())) {
    refresh();
    return;
  }
  told.clear();
  sayAnswer("assay", "assay-answer", null);
  fillEmpty(byId("assay-answer"), "Nothing told yet", "Its colour and what an ohmmeter shows already say much.");
}

const refresh = newest(async () => {
  const fields = question();
  if (!anything(fields)) return;
  told.busy("Weighing every kind of film …");
  sayBusy("assay", "assay-answer", "Weighing every kind of film …");
  byId("assay-answer").setAttribute("aria-busy", "true");
  const { answer } = await ask("assay", fields);
  told.clear();
  byId("assay-answer").removeAttribute("aria-busy");
  if (anything(question())) showVerdict(answer, fields); // or all was taken back meanwhile
}, (error) => {
  byId("assay-answer").removeAttribute("aria-busy");
  if (!anything(question())) {
    told.clear();
    return;
  }
  fillEmpty(byId("assay-answer"), "No verdict", "What was entered cannot be weighed yet.");
  sayAnswer("assay", "assay-status", `No verdict: ${error.message}`);
  told.refused(error);
});

/** The verdict in the fewest words: what is read above a phone's tab bar. */
function shortly({ hypotheses: [first], fits }) {
  return fits ? `${sentence(first.words).slice(0, -1)} · ${percent(first.probability)}` : "Nothing fits";
}

function showVerdict(verdict, fields) {
  const { front } = verdict.hypotheses[0].example;
  sayAnswer("assay", "assay-answer", shortly(verdict), verdict.fits && front ? [front.srgb_hex] : []);
  fill(byId("assay-answer"), verdictParts(verdict), exportRow({ verb: "assay", given: fields }, verdict, () => toLog(verdict, fields)));
}

function verdictParts(verdict) {
  const likely = verdict.hypotheses.filter((one) => one.probability >= SHOWN);
  const odd = [...verdict.contradictions, ...verdict.warnings];
  return [el("p", { class: "lead" }, sentence(verdict.verdict)),
    el("p", { class: "next" }, el("strong", {}, "Check next"), sentence(verdict.next_check)),
    odd.length ? el("ul", { class: "notes" }, odd.map((one) => el("li", {}, sentence(one)))) : null,
    el("div", { class: "cards" }, (verdict.fits ? likely : likely.slice(0, 3)).map(suspect)),
    verdict.fits ? el("details", { open: true }, el("summary", {}, "Why"),
      el("ul", { class: "notes" }, verdict.why.map((one) => el("li", {},
        sentence(`${one.observation} (${one.found}) ${one.words}: ${factor(one.decibans)}`))),
      verdict.would_change.map((one) => el("li", {}, `The verdict would turn ${sentence(one).replace(/^./, (c) => c.toLowerCase())}`)))) : null,
    nextRun(verdict.remedies)];
}

/** How far a finding moves the odds. */
function factor(decibans) {
  const times = 10 ** (Math.abs(decibans) / 10);
  if (times < 1.25) return "hardly any difference";
  const said = times > 1e6 ? "over a million" : Number(times.toPrecision(2)).toLocaleString("en-GB");
  return `${said} times ${decibans > 0 ? "likelier" : "less likely"}`;
}

function toLog(verdict, { metal, on, seen, ohms }) {
  return { kind: "chamber", metal, on, seen: seen[0] ?? "", ohms, answer: verdict.verdict };
}

function conducts(ohm) {
  if (ohm === null) return "";
  return ohm > INSULATES_OHM ? " does not conduct; it shows" : ` has ${figure(ohm, 2)} ohms per square; it shows`;
}

function suspect(one) {
  const bar = el("span", { class: "bar-fill" });
  bar.style.width = `${Math.max(0.5, 100 * one.probability)}%`;
  const looks = Object.entries(SIDES).filter(([side]) => one.example[side]);
  const within = one.region90_nm.slice(0, 2).map(span).join(" or ");
  const nm = Math.round(one.example.thickness_nm);
  return el("div", { class: "suspect" },
    el("div", { class: "suspect-head" }, el("strong", {}, sentence(one.words).slice(0, -1)),
      el("span", { class: "bar-share" }, percent(one.probability)), el("span", { class: "bar", "aria-hidden": "true" }, bar)),
    el("span", { class: "hint" }, nm ? `90 % within ${within}. Such a film of ${nm} nm${conducts(one.example.ohm_sq)}:` : "It shows:"),
    el("div", { class: "suspect-looks" }, looks.map(([side, words]) => el("div", {},
      el("span", { class: "label" }, words), named(one.example[side].srgb_hex, one.example[side].name)))));
}
