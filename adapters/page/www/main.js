// SPDX-License-Identifier: Apache-2.0
// Starts the page: who is logged in, which view is shown, and when it must be shown anew.

import { get, leave, loadSession, onLost, quietly, session } from "./api.js";
import { h, button, say } from "./dom.js";
import { logIn, welcome } from "./enter.js";
import { today } from "./today.js";
import { calls } from "./calls.js";
import { replies } from "./replies.js";
import { clients } from "./clients.js";
import { client } from "./client.js";
import { fresh } from "./fresh.js";
import { week } from "./week.js";
import { standing } from "./standing.js";

const VIEWS = [
  { path: "today", name: "Today", show: today, live: true },
  { path: "calls", name: "To ring", show: calls, live: true },
  { path: "replies", name: "Replies", show: replies, live: true },
  { path: "clients", name: "Clients", show: clients, live: true },
  { path: "new", name: "New client", show: fresh, clinician: true },
  { path: "week", name: "The week", show: week },
  { path: "state", name: "State", show: standing, live: true },
  { path: "client", show: client, live: true },
];

const WARN_S = 120;
const ANEW_MS = 60 * 1000;
const TELL_MS = 5 * 60 * 1000;
const main = document.getElementById("main");
const head = document.getElementById("head");
let shown = null;
let turn = 0;
let stream = null;
let touched = Date.now();
let told = Date.now();
let warning = null;

// --- the frame ---------------------------------------------------------------------------------------

function drawHead() {
  const place = shown?.view.path;
  head.replaceChildren(
    h("div", { class: "brand" }, h("strong", {}, session.clinic)),
    session.name === null ? "" : h("nav", { "aria-label": "Views" }, h("ul", {},
      VIEWS.filter((v) => v.name && (!v.clinician || session.role === "clinician")).map((v) =>
        h("li", {}, h("a", { href: `#/${v.path}`, "aria-current": v.path === place ? "page" : null }, v.name,
          h("span", { class: "tally", id: `tally-${v.path}`, hidden: true })))))),
    session.name === null ? "" : h("div", { class: "who" },
      h("span", {}, session.name, session.role === "desk" ? " (desk)" : ""), button("Log out", logOut, { class: "plain" })));
  tallies();
}

let counts = {};

// How much waits, beside the names of the views.
function tally(next) {
  counts = { ...counts, ...next };
  tallies();
}

function tallies() {
  for (const [path, [n, what]] of Object.entries(counts)) {
    const place = document.getElementById(`tally-${path}`);
    if (!place) continue;
    place.hidden = n === 0;
    place.replaceChildren(h("span", { "aria-hidden": "true" }, n), h("span", { class: "unseen" }, `, ${n} ${what}`));
  }
}

async function logOut() {
  await leave();
  location.hash = "#/today";
  start();
}

// --- views -------------------------------------------------------------------------------------------

function place() {
  const [path, ...rest] = location.hash.replace(/^#\//, "").split("/").map((part) => {
    try {
      return decodeURIComponent(part);
    } catch {
      return "";
    }
  });
  return { view: VIEWS.find((v) => v.path === path) ?? VIEWS[0], rest };
}

async function show() {
  const mine = ++turn;
  shown = place();
  drawHead();
  main.replaceChildren(h("p", { class: "quiet" }, "Loading …"));
  await draw(mine, true);
  if (mine === turn && document.activeElement === document.body) main.focus({ preventScroll: true });
}

// Draws the view that is shown; anew: a person came here, so the top is where to begin. gently: something came in, and gives way to
// whoever began to write while it was fetched.
async function draw(mine, anew, gently = false) {
  let content;
  try {
    content = await shown.view.show(shown.rest, { refresh, tally });
  } catch (fault) {
    if (fault.status === 401) return;
    if (gently && fault.status === 0) {
      tellLine(false);
      return;
    }
    content = h("section", {}, h("h1", {}, "This cannot be shown"), h("p", { class: "fault", role: "alert" }, fault.message),
      button("Try again", show));
  }
  if (mine !== turn || session.name === null || !content) return;
  tellLine(true);
  if (gently && isBusy()) {
    waiting = setTimeout(catchUp, 2000);
    await count();
    return;
  }
  const focus = anew ? null : focusPath();
  const parts = anew ? [] : openParts();
  main.replaceChildren(content);
  written = false;
  reopen(parts);
  if (focus) restoreFocus(focus);
  const title = main.querySelector("h1")?.textContent ?? "";
  const [open] = counts.calls ?? [0];
  document.title = `${open > 0 ? `(${open}) ` : ""}${title} · ${session.clinic}`;
  if (anew) window.scrollTo(0, 0);
}

// What somebody had unfolded stays unfolded.
const partKey = (part) => `${part.closest("[data-key]")?.getAttribute("data-key") ?? ""} ${part.querySelector("summary")?.textContent ?? ""}`;

function openParts() {
  return [...main.querySelectorAll("details")].map((part) => [partKey(part), part.open]);
}

function reopen(parts) {
  const before = new Map(parts);
  for (const part of main.querySelectorAll("details")) if (before.has(partKey(part))) part.open = before.get(partKey(part));
}

// Where the focus was, so that what is drawn anew does not take it from somebody who uses the keyboard.
function focusPath() {
  const active = document.activeElement;
  if (!active || !main.contains(active) || active === main) return null;
  const key = active.closest("[data-key]")?.getAttribute("data-key") ?? null;
  return { key, text: active.textContent, tag: active.tagName, href: active.getAttribute("href") };
}

function restoreFocus({ key, text, tag, href }) {
  const within = key ? main.querySelector(`[data-key="${CSS.escape(key)}"]`) : main;
  const all = [...(within ?? main).querySelectorAll(tag)];
  const same = all.find((e) => e.textContent === text && e.getAttribute("href") === href);
  (same ?? (within !== main ? within?.querySelector("a, button") : null) ?? main).focus({ preventScroll: true });
}

// Somebody is writing, or has written and not sent it: that is not taken from them.
let written = false;
main.addEventListener("input", () => { written = true; });

function isBusy() {
  const active = document.activeElement;
  return written || main.querySelector("[data-open]") !== null ||
    (active && main.contains(active) && ["INPUT", "TEXTAREA", "SELECT"].includes(active.tagName));
}

// The view stands still meanwhile, but not the figures above it: somebody may have to be rung now.
async function count() {
  try {
    const data = await quietly(() => get("/today"));
    tally({ calls: [data.calls.filter((c) => c.state !== "taken").length, "to take"], replies: [data.unread + data.glance, "waiting"] });
    tellLine(true);
  } catch (fault) {
    if (fault.status === 0) tellLine(false);
  }
}

// What is shown may be old, and somebody may wait to be rung: that is said.
function tellLine(there) {
  const place = document.getElementById("line");
  const text = there ? "" : "No line to osier; trying again. What you see may be old.";
  if (place.textContent !== text) place.textContent = text;
}

// After a change that a person made here.
async function refresh() {
  await draw(turn, false);
}

let waiting = null;

function moved() {
  clearTimeout(waiting);
  waiting = setTimeout(async () => {
    if (session.name === null || !shown) return;
    if (!shown.view.live) {
      await count();
      return;
    }
    if (!isBusy()) {
      await quietly(() => draw(turn, false, true));
      return;
    }
    await count();
    waiting = setTimeout(catchUp, 2000);
  }, 400);
}

// Draws what moved meanwhile, once nobody writes any more.
function catchUp() {
  if (isBusy()) waiting = setTimeout(catchUp, 2000);
  else moved();
}

function listen() {
  stream?.close();
  stream = new EventSource("/changes");
  stream.addEventListener("moved", moved);
  stream.addEventListener("open", () => tellLine(true));
  stream.addEventListener("error", () => {
    tellLine(false);
    if (stream.readyState === EventSource.CLOSED) setTimeout(check, 3000);
  });
}

// The stream was refused: because the session ended, or because osier starts anew.
async function check() {
  if (session.name === null) return;
  try {
    if (await quietly(loadSession)) listen();
    else start("You were logged out.");
  } catch {
    setTimeout(check, 3000);
  }
}

// --- leaving by itself -------------------------------------------------------------------------------

function touch() {
  touched = Date.now();
}

function closeWarning() {
  warning?.close();
  warning?.remove();
  warning = null;
}

function warn() {
  warning = h("dialog", { "aria-labelledby": "still" }, h("h2", { id: "still" }, "Still there?"),
    h("p", {}, "Nothing was done here for a while. In two minutes you will be logged out."),
    button("Stay logged in", async () => {
      touch();
      closeWarning();
      if (!(await loadSession())) start("You were logged out.");
    }, { class: "main" }));
  document.body.append(warning);
  warning.showModal();
}

// Who fills in a long form calls nothing meanwhile; osier hears now and then that somebody is there.
async function tellThere() {
  told = Date.now();
  try {
    if (!(await loadSession())) start("You were logged out.");
  } catch {
    // the line is down; the stream says so
  }
}

async function watchIdle() {
  if (session.name === null) return;
  if (touched > told && Date.now() - told >= TELL_MS) await tellThere();
  const idle = (Date.now() - touched) / 1000;
  if (idle >= session.idle_s) {
    closeWarning();
    await leave();
    start("You were logged out, because nothing was done here for a while.");
  } else if (idle >= session.idle_s - WARN_S && !warning) {
    warn();
  }
}

// --- start -------------------------------------------------------------------------------------------

async function start(note) {
  turn++;
  stream?.close();
  stream = null;
  shown = null;
  counts = {};
  const link = location.hash.match(/^#\/welcome\/([A-Za-z0-9_-]+)$/);
  let inside = false;
  try {
    inside = await loadSession();
  } catch (fault) {
    note = fault.message;
  }
  drawHead();
  if (link) {
    main.replaceChildren(welcome(link[1], begin));
  } else if (!inside) {
    main.replaceChildren(logIn(begin, typeof note === "string" ? note : null));
    main.querySelector("input")?.focus();
  } else {
    begin();
  }
  document.title = inside ? document.title : `Log in · ${session.clinic}`;
}

function begin() {
  touch();
  if (location.hash.startsWith("#/welcome")) history.replaceState(null, "", "#/today");
  listen();
  show();
}

onLost(() => {
  if (session.name !== null) start("You were logged out.");
});
window.addEventListener("hashchange", () => {
  say("");
  if (location.hash === "#main") return;
  if (location.hash.startsWith("#/welcome")) start();
  else if (session.name !== null) show();
});
document.querySelector(".skip").addEventListener("click", (event) => {
  event.preventDefault();
  main.focus();
});
for (const kind of ["pointerdown", "keydown", "wheel"]) window.addEventListener(kind, touch, { passive: true });
setInterval(watchIdle, 5000);
// A line that breaks in silence ends no stream; and "open for 3 minutes" is true for a minute.
setInterval(() => {
  if (session.name !== null && shown && !document.hidden) moved();
}, ANEW_MS);
start();
