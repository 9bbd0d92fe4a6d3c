// Questions to the server, the newest first.

import { GUEST, sentence } from "./dom.js";
import { tablesNamed } from "./tables.js";

/** Why there is no answer, as a sentence fit to show. */
export class Refused extends Error {}

const LOST = "The page has lost its server. Start it again with: oxhue page";
const KEY_GONE = GUEST
  ? "This device is no longer let in. Ask for a new code on the computer's page, under “Phone”."
  : "The key of this page is no longer good. Open the address from the terminal again.";

/** Ask one question; the answer, or Refused with the reason. */
export async function ask(question, fields, signal) {
  const tables = tablesNamed(fields);
  return sent(`/api/${question}`, {
    method: "POST",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify(tables ? { ...fields, tables } : fields),
    signal,
  });
}

/**
 * Ask what may take long. `busy(words)` is told how far it is; the button `stop` shows meanwhile,
 * and ends the work: what was found so far is the answer.
 */
export async function askLong(question, fields, busy, stop) {
  const ticket = crypto.getRandomValues(new Uint32Array(4)).join("-");
  const halt = () => ask("stop", { ticket });
  let over = false; // what is told of the way must not come after its end
  stop.hidden = false;
  stop.dataset.ticket = ticket;
  stop.addEventListener("click", halt);
  const look = setInterval(async () => {
    const { answer } = await ask("progress", { ticket }).catch(() => ({ answer: {} }));
    if (answer.said && !over) busy(`${answer.said.charAt(0).toUpperCase()}${answer.said.slice(1)} …`);
  }, 700);
  try {
    return await ask(question, { ...fields, ticket });
  } finally {
    over = true;
    clearInterval(look);
    stop.removeEventListener("click", halt);
    if (stop.dataset.ticket === ticket) hideStop(stop); // or something newer goes on
  }
}

function hideStop(stop) {
  if (document.activeElement === stop) stop.parentElement.querySelector("button:not([hidden])").focus(); // keys go on from there
  stop.hidden = true;
}

/** Send a photo as it is; its name on the server, its size, and notes. */
export async function sendPhoto(file) {
  return sent("/api/photo", {
    method: "POST",
    headers: { "Content-Type": "application/octet-stream" },
    body: file,
  });
}

/** Send a saved log, or a piece, as it is. */
export async function sendLog(file) {
  return sent("/api/log/file", {
    method: "POST",
    headers: { "Content-Type": "application/octet-stream" },
    body: file,
  });
}

async function sent(address, options) {
  let response;
  try {
    response = await fetch(address, options);
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Refused(LOST);
  }
  const found = await response.json().catch(() => null);
  if (found && found.refused) throw new Refused(sentence(found.refused));
  if (!response.ok || !found) {
    throw new Refused(response.status === 403
      ? KEY_GONE
      : "The server gave no answer that can be read.");
  }
  const photo = response.headers.get("X-Photo");
  return photo ? { ...found, photo } : found;
}

/**
 * Runs work one at a time and drops what went stale: while one runs, only the newest call waits.
 * `work` gets the arguments of that call; what it throws goes to `failed`.
 */
export function newest(work, failed) {
  let running = false;
  let waiting = null;
  return async function run(...given) {
    waiting = given;
    if (running) return;
    running = true;
    while (waiting) {
      const now = waiting;
      waiting = null;
      try {
        await work(...now);
      } catch (error) {
        if (error.name !== "AbortError" && !waiting) failed(error);
      }
    }
    running = false;
  };
}

/** Run `work` once at a time by a button, which keeps the focus of keys meanwhile. */
export async function whileBusy(button, work) {
  if (button.ariaDisabled === "true") return;
  button.ariaDisabled = "true";
  try {
    await work();
  } finally {
    button.ariaDisabled = "false";
  }
}

/** Shows a refusal in a room's line of status, and clears it; bugs stay bugs. */
export function teller(node) {
  return {
    clear() {
      node.textContent = "";
      node.className = "status";
    },
    busy(text) {
      node.textContent = text;
      node.className = "status busy";
    },
    refused(error) {
      node.className = "status refused";
      node.textContent = error instanceof Refused ? error.message : "The page itself has failed.";
      if (!(error instanceof Refused)) throw error;
    },
  };
}
