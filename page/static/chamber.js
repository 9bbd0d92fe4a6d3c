// The gas in a jar: what is in there, and what it makes of metals.

import { sayAnswer, sayBusy } from "./answer_line.js";
import { ask, newest, teller } from "./ask.js";
import { pressureChart } from "./chart.js";
import { showExample } from "./example.js";
import { exportRow } from "./exports.js";
import { byId, el, fill, fillEmpty, figure, percent, scrolling } from "./dom.js";
import { reveal } from "./order.js";

const FIELDS = ["volume", "pumping", "tube", "rise", "leak", "gauge", "working-gas", "working-pressure", "flush",
  "metal", "rate", "source", "distance"];
const GASES = { Ar: "argon", N2: "nitrogen", O2: "oxygen", H2O: "water", H2: "hydrogen", CO: "carbon monoxide",
  CO2: "carbon dioxide" };

let told;

/** Set the form up. */
export function openChamber() {
  told = teller(byId("chamber-status"));
  byId("chamber-form").addEventListener("submit", (event) => { event.preventDefault(); weigh(); });
  fillEmpty(byId("chamber-answer"), "No jar yet", "Shut the valve, read the pressure twice, and say how fast you pump.");
  return () => showExample("chamber-answer", "a jar of 3 l on a pump of 2 l/s, its leak a usual one.", async () => {
    const { answer, words } = await ask("chamber", { volume: "3l", pumping: "2l/s", metal: "Ti,Al,Cu,Ag", rate: "0.2nm/s", source: "wire", distance: "5cm" });
    return gasParts(answer, words);
  });
}

const weigh = newest(async () => {
  told.busy("Following the gas …");
  sayBusy("deposit", "chamber-status", "Following the gas …");
  const texts = FIELDS.map((name) => [name.replaceAll("-", "_"), byId(`chamber-${name}`).value]);
  const fields = { ...Object.fromEntries(texts), plastic: byId("chamber-plastic").checked };
  const { answer, words } = await ask("chamber", fields);
  told.clear();
  showChamber(answer, words, fields);
  reveal("chamber-answer", byId("chamber-form"));
}, (error) => {
  fillEmpty(byId("chamber-answer"), "No answer", "What was entered cannot be used yet.");
  sayAnswer("deposit", "chamber-status", error.message);
  told.refused(error);
});

function cell(head, words) {
  return el("td", { "data-head": head }, words);
}

function row(metal, answer) {
  const states = answer.states[metal];
  const nitride = answer.nitride[metal];
  return el("tr", {}, cell("metal", el("strong", {}, metal)),
    cell("oxygen per atom", figure(answer.oxygen_per_metal[metal], 2)),
    cell("stays metal", percent(states.metal)), cell("grey", percent(states.grey)),
    cell("oxide", percent(states.oxide)), cell("golden nitride", nitride > 0 ? percent(nitride) : "none"));
}

/** The answer in the fewest words: what is read above a phone's tab bar. */
function shortly({ states }) {
  const metals = Object.keys(states);
  const stay = metals.filter((metal) => states[metal].metal >= 0.5);
  if (!stay.length) return `Likely to stay metal: none of ${metals.join(", ")}`;
  return `Likely to stay metal: ${stay.length === metals.length && metals.length > 1 ? "all of " : ""}${stay.join(", ")}`;
}

function showChamber(answer, words, fields) {
  sayAnswer("deposit", "chamber-answer", shortly(answer));
  fill(byId("chamber-answer"), gasParts(answer, words), exportRow({ verb: "chamber", given: fields }, answer));
}

function gasParts(answer, words) {
  const heads = ["metal", "oxygen per atom", "stays metal", "grey", "oxide", "golden nitride"];
  return [el("p", { class: "lead" }, words.headline),
    scrolling("What each metal turns into", el("table", { class: "steps-table" },
      el("thead", {}, el("tr", {}, heads.map((head) => el("th", { scope: "col" }, head)))),
      el("tbody", {}, Object.keys(answer.states).map((metal) => row(metal, answer))))),
    pressureChart(answer.history, GASES, "Pressure of each gas since the pump was started"),
    el("ul", { class: "notes" }, words.lines.map((one) => el("li", {}, one)))];
}
