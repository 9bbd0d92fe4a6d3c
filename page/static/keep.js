// What a room was set to, in the address after #: reload, back and a link that was sent restore it.

import { GUEST } from "./dom.js";
import { showVerbs } from "./verbs.js";

const FIELDS = "input[id]:not([type=file]), select[id], textarea[id], input[type=radio][name]";
const SETTLE_MS = 400;
const NEVER_SENT = new Set(["log-form", "log-next-form"]); // recording twice is not restoring
const LEFT = "left"; // the address when the page was left, and what it should have been
const LONGEST = 8_000; // letters; past that the address keeps the room alone

const before = new Map(); // what each field held when the page was opened, by key
const extras = {}; // by room: { get, set } of what is no plain field
let restoring = false;

/** What a room holds beyond its fields; `get` gives texts by name, `set` takes them back. */
export function keepAlso(room, parts) {
  extras[room] = parts;
}

function key(field) {
  return field.type === "radio" ? field.name : field.id;
}

function value(field) {
  if (field.type === "checkbox") return field.checked ? "yes" : "";
  return field.value;
}

function fieldsOf(room) {
  return [...room.querySelectorAll(FIELDS)].filter((field) => field.type !== "radio" || field.checked);
}

function openRoom() {
  return document.querySelector(".room:not([hidden])");
}

/** Remember how everything stands, and follow every change from here on. */
export function followState() {
  for (const room of document.querySelectorAll(".room")) {
    for (const field of fieldsOf(room)) before.set(key(field), value(field));
  }
  document.addEventListener("submit", (event) => { event.target.dataset.sent = "yes"; }, true);
  let timer;
  const settle = () => {
    clearTimeout(timer);
    timer = setTimeout(writeAddress, SETTLE_MS);
  };
  for (const kind of ["input", "change", "click", "submit", "pointerup", "keyup"]) document.addEventListener(kind, settle);
  for (const link of document.querySelectorAll("[data-room]")) link.addEventListener("click", writeAddress); // before it is followed
  addEventListener("pagehide", () => {
    if (!restoring) sessionStorage.setItem(LEFT, JSON.stringify([location.hash, currentAddress()]));
  });
}

/** Put the state of the open room into the address. */
export function writeAddress() {
  if (restoring) return;
  const address = currentAddress();
  if (address !== location.hash) history.replaceState(null, "", address);
}

function currentAddress() {
  const room = openRoom();
  const held = new URLSearchParams();
  for (const field of fieldsOf(room)) {
    const now = value(field);
    if (now !== (before.get(key(field)) ?? "")) held.set(key(field), now);
  }
  for (const [name, text] of Object.entries(extras[room.id]?.get() ?? {})) if (text) held.set(name, text);
  const sent = [...room.querySelectorAll("form[data-sent][id]")].map((form) => form.id).filter((id) => !NEVER_SENT.has(id));
  if (sent.length) held.set("asked", sent.join(" "));
  const written = held.toString();
  return `#${room.id}${written && written.length < LONGEST ? `?${written}` : ""}`;
}

/** What was entered just before the page was left had not come into the address by then. */
function finishAddress() {
  const [address, entered] = JSON.parse(sessionStorage.getItem(LEFT) ?? "[]");
  sessionStorage.removeItem(LEFT);
  if (entered && address === location.hash) history.replaceState(null, "", entered);
}

/** The room that the address names, and what it holds of it. */
export function readAddress() {
  finishAddress();
  const [name, written = ""] = location.hash.slice(1).split("?");
  return { name, held: new URLSearchParams(written) };
}

/** Set the open room to what the address holds. */
export async function restore(held) {
  if (![...held].length) return;
  restoring = true;
  try {
    const room = openRoom();
    if ([...held.keys()].some((one) => one.includes("-every-"))) await showEvery(room, held);
    for (const field of room.querySelectorAll(FIELDS)) setField(field, held.get(key(field)));
    await extras[room.id]?.set(held);
    for (const id of (held.get("asked") ?? "").split(" ").filter(Boolean)) {
      const form = document.getElementById(id);
      if (form && room.contains(form) && !NEVER_SENT.has(id)) form.requestSubmit();
    }
  } catch (error) {
    if (!(error instanceof SyntaxError)) throw error; // a link that was cut leaves the room as it is
  } finally {
    restoring = false;
  }
}

async function showEvery(room, held) {
  const part = room.querySelector("details.every");
  if (!part || GUEST) return; // a link from elsewhere may name what is not here
  await showVerbs(part);
  part.open = true;
  for (const one of held.keys()) {
    const form = one.includes("-every-") && document.getElementById(`every-${one.split("-every-")[0]}`);
    if (form) form.open = true;
  }
}

function setField(field, text) {
  if (text === null) return;
  if (field.type === "radio") {
    if (field.value !== text) return;
    field.checked = true;
  } else if (field.type === "checkbox") {
    field.checked = text === "yes";
  } else {
    field.value = text;
  }
  for (const kind of ["input", "change"]) field.dispatchEvent(new Event(kind, { bubbles: true }));
}
