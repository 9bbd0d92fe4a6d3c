// A row of spots along a line drawn through a photo, gauged together as one piece.

import { askLong, teller, whileBusy } from "./ask.js";
import { profileChart } from "./chart.js";
import { exportRow } from "./exports.js";
import { reveal } from "./order.js";
import { el, fill, span } from "./dom.js";

/**
 * The panel that gauges a row; `question()` gives the fields, `row()` the line and its marks,
 * `logged(words)` what the run log is told of it.
 */
export function rowPanel(question, row, logged) {
  const line = el("p", { class: "status", role: "status" });
  const told = teller(line);
  const stop = el("button", { type: "button", class: "plain", hidden: true }, "Stop");
  const box = el("div", { "aria-live": "polite", id: "row-answer" });
  const go = el("button", { type: "button", onclick: () => whileBusy(go, gauge) }, "Gauge the row");
  async function gauge() {
    const marks = row();
    if (!marks) {
      told.busy("Mark where the row starts and where it ends first.");
      line.className = "status";
      return;
    }
    told.busy("Gauging the spots together …");
    try {
      const fields = { ...question(), ...marks };
      const { answer, drawing, trusted } = await askLong("row", fields, told.busy, stop);
      told.clear();
      show(answer, drawing, trusted, fields);
      reveal("row-answer", box.parentElement);
    } catch (error) {
      told.refused(error);
    }
  }
  function show(answer, { seen_hex }, trusted, fields) {
    const { readings } = answer;
    const found = readings.map((one) => [one.thickness_nm, ...one.interval90_nm]);
    fill(box, el("p", { class: "lead" }, words(readings)),
      trusted ? null : el("p", { class: "status refused" }, "Two runs did not agree; do not trust this. Set the marks again."),
      profileChart(found, "along the row"),
      el("ul", { class: "cards" }, readings.map((one, i) => el("li", { class: "card" },
        el("span", { class: "patch tall", colour: seen_hex[i], "aria-hidden": "true" }),
        el("div", { class: "card-words" }, el("strong", {}, `Spot ${i + 1}: ${Math.round(one.thickness_nm)} nm`),
          el("span", {}, `90 % within ${span(one.interval90_nm)}`))))),
      exportRow({ ask: "row", fields }, answer, () => logged(words(readings))));
  }
  return el("div", { class: "row-panel" }, el("h2", {}, "A row of spots"),
    el("p", { class: "hint" }, "Mark where the row starts and ends; spots between are read together, which tells their orders apart."),
    el("div", { class: "row" }, go, stop), line, box);
}

function words(readings) {
  const nm = readings.map((one) => Math.round(one.thickness_nm));
  return `From ${nm[0]} to ${nm.at(-1)} nm along the row.`;
}
