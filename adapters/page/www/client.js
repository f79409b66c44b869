// SPDX-License-Identifier: Apache-2.0
// One client: course, readiness, plan, messages both ways, measures, and what may be done.

import { get, post, session } from "./api.js";
import { legend } from "./clients.js";
import { course } from "./course.js";
import { h, button, choice, field, say } from "./dom.js";
import { takeAndClose } from "./matters.js";
import { measures } from "./measures.js";
import { readingWords } from "./replies.js";
import { CHANNELS, date, day, firstUp, kindWords, phone, planDays, reasonWords, STANDINGS, when } from "./words.js";

const FATES = { waiting: "waits to be sent", writing: "is being sent", accepted: "sent", delivered: "delivered", refused: "refused", failed: "failed",
  lapsed: "not sent, its time had passed", unsure: "perhaps sent" };
const VERDICTS = { "move on": "Ready to move on", stay: "Stays at this stage", "step back": "Better one stage back" };
const WHYS = [["away", "away"], ["illness", "ill"], ["hospital", "in hospital"], ["fracture", "a fracture"], ["operation", "an operation"], ["other", "something else"]];
const THREAD = 24;

async function change(path, body, fault, page, done) {
  try {
    await post(path, body);
  } catch (problem) {
    fault.textContent = problem.told;
    return;
  }
  document.activeElement?.blur();
  say(done);
  await page.refresh();
}

// --- what stands open ---------------------------------------------------------------------------------

function open(data, page) {
  const matters = data.alerts.filter((a) => a.state !== "closed" && a.class !== "digest");
  if (matters.length === 0) return null;
  return h("section", { "aria-labelledby": "open" }, h("h2", { id: "open" }, "Open matters"), h("ul", { class: "matters" }, matters.map((a) =>
    h("li", { class: `matter ${a.class}`, "data-key": a.alert }, h("p", { class: "klass" }, a.class === "now" ? "NOW" : "Today"),
      h("div", { class: "body" }, h("h3", {}, firstUp(kindWords(a.kind, a.reasons))), h("ul", { class: "reasons" }, a.reasons.map((r) => h("li", {}, firstUp(reasonWords(r))))),
        h("p", { class: "quiet" }, a.taken_by ? `Taken by ${a.taken_by}.` : "Not taken yet.")),
      h("div", { class: "actions" }, takeAndClose(a.alert, a, page, firstUp(kindWords(a.kind, a.reasons))))))));
}

// --- readiness ----------------------------------------------------------------------------------------

function reasonRow(r) {
  const shown = (v) => v === null || v === undefined ? "–" : String(v);
  return h("tr", {}, h("th", { scope: "row" }, firstUp(r.rule)), h("td", { "data-name": "Seen" }, shown(r.value)), h("td", { "data-name": "Asked for" }, shown(r.limit)),
    h("td", {}, h("span", { class: `tick ${r.met ? "yes" : "no"}` }, r.rule.startsWith("step back") ? (r.met ? "yes" : "no") : r.met ? "met" : "not met")));
}

function moving(client, ready, stages, page) {
  const fault = h("p", { class: "fault", role: "alert" });
  const title = (key) => stages.find((s) => s.key === key)?.title ?? key;
  const move = (stage, label, props) => button(label, () => change(`/clients/${client.client}/plan/move`, { stage }, fault, page, `Moved to ${title(stage)}.`), props);
  const other = choice("stage", stages.filter((s) => s.key !== ready.stage).map((s) => [s.key, s.title]), "");
  if (session.role !== "clinician") return h("p", { class: "quiet" }, "A clinician confirms.");
  return h("div", {}, h("div", { class: "actions" },
    ready.to !== ready.stage ? move(ready.to, `Confirm: ${ready.verdict === "step back" ? "back" : "on"} to ${title(ready.to)}`, { class: "main" }) : null),
    h("details", {}, h("summary", {}, "Decide otherwise"), h("div", { class: "search" }, field("Stage", other), button("Move there", () =>
      change(`/clients/${client.client}/plan/move`, { stage: other.value }, fault, page, `Moved to ${title(other.value)}.`)))), fault);
}

async function readiness(client, stages, page) {
  if (!client.plan) return null;
  let ready;
  try {
    ready = await get(`/clients/${client.client}/ready`);
  } catch {
    return null;
  }
  const missing = ready.reasons.filter((r) => !r.met && !r.rule.startsWith("step back"));
  return h("section", { "aria-labelledby": "ready", "data-key": "ready" }, h("h2", { id: "ready" }, "Readiness"),
    h("p", { class: `verdict ${ready.verdict.replace(" ", "-")}` }, VERDICTS[ready.verdict] ?? ready.verdict),
    ready.verdict === "stay" && missing.length > 0 ? [h("p", {}, "Not met:"), h("ul", { class: "reasons" }, missing.map((r) => h("li", {}, firstUp(reasonWords(r)))))] : null,
    h("details", {}, h("summary", {}, "All reasons"), h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "Reasons" }, h("table", {},
      h("thead", {}, h("tr", {}, ["Reason", "Seen", "Asked for", ""].map((t) => h("th", { scope: "col" }, t)))), h("tbody", {}, ready.reasons.map(reasonRow))))),
    moving(client, ready, stages, page));
}

// --- the plan -----------------------------------------------------------------------------------------

function plan(client) {
  const p = client.plan;
  const anew = session.role === "clinician" && client.standing !== "ended"
    ? h("p", { class: "actions" }, h("a", { class: "action", href: `#/new/${client.client}` }, p ? "Set screen and plan anew" : "Set screen and plan")) : null;
  if (!p) return h("section", { "aria-labelledby": "plan" }, h("h2", { id: "plan" }, "Plan"), h("p", { class: "quiet" }, "No plan yet."), anew);
  return h("section", { "aria-labelledby": "plan" }, h("h2", { id: "plan" }, "Plan"),
    h("p", {}, h("strong", {}, p.title ?? p.stage), ` at ${p.at.join(" and ")}, the client's own clock`, p.rule ? `, ${planDays(p.rule)}` : "", p.side !== "both" ? `, ${p.side} side` : "", "."),
    h("ul", { class: "plainlist" }, p.movements.map((m) => h("li", {}, h("strong", {}, m.title), ` — ${m.dose}`, m.one_dose_lower ? h("span", { class: "flag" }, "one dose lower for now") : null,
      m.picture ? h("figure", { class: "setup" }, h("img", { src: `/clients/${client.client}/setup.svg?movement=${encodeURIComponent(m.movement)}`, alt: m.picture, loading: "lazy" })) : null,
      h("details", {}, h("summary", {}, `How ${m.title.toLowerCase()} is done`), m.text.split("\n").filter(Boolean).map((line) => h("p", {}, line)))))),
    h("dl", { class: "facts" }, h("dt", {}, "Next session"), h("dd", {}, p.next ? when(p.next, client.zone) : "none"),
      h("dt", {}, "Treating clinician"), h("dd", {}, p.clinician ?? "–"), h("dt", {}, "Review"), h("dd", {}, p.review ? date(p.review) : "–"),
      h("dt", {}, "Goal"), h("dd", {}, p.goal_deg?.left ? `left ${p.goal_deg.left}°, right ${p.goal_deg.right}°` : "–"),
      h("dt", {}, "Screen"), h("dd", {}, client.screen ? `${day(client.screen.at, client.zone)}, ${client.screen.by}${client.screen.clear ? ", nothing found" : `: ${client.screen.findings.join("; ")}`}${client.screen.floor ? "" : "; not on the floor"}` : "none yet"),
      p.screen_due ? [h("dt", {}, "Due"), h("dd", { class: "flag" }, "a fresh screen")] : null), anew);
}

// --- messages -----------------------------------------------------------------------------------------

function thread(messages, replies, client) {
  const items = [...messages.filter((m) => m.kind !== "alert" && m.kind !== "digest").map((m) => ({ at: m.at, out: true, text: m.text, short: m.kind === "reminder" || m.kind === "nudge", note: `${m.kind === "checkin" ? "weekly question" : m.kind}, ${FATES[m.fate] ?? m.fate}` })),
    ...replies.map((r) => ({ at: r.at, out: false, text: r.text ?? "(no text)", note: `read as: ${readingWords(r.reading)}${r.state === "unread" ? "; waits for you" : ""}` }))]
    .sort((a, b) => (a.at < b.at ? 1 : -1));
  return h("section", { "aria-labelledby": "post" }, h("h2", { id: "post" }, "Messages"),
    items.length === 0 ? h("p", { class: "quiet" }, "None in the last four weeks.") : h("ol", { class: "thread" }, items.slice(0, THREAD).map((i) =>
      h("li", { class: i.out ? "out" : "in" }, h("p", { class: "time" }, when(i.at, client.zone)), i.short
        ? h("details", {}, h("summary", { class: "quiet" }, `osier: ${i.note}`), h("p", { class: "text" }, i.text))
        : h("div", {}, h("p", { class: "quiet" }, i.out ? `osier: ${i.note}` : client.name), i.out ? h("p", { class: "text" }, i.text)
          : [h("blockquote", {}, i.text), h("p", { class: "quiet" }, i.note)])))),
    items.length > THREAD ? h("p", { class: "quiet" }, `The latest ${THREAD} of ${items.length} in four weeks.`) : null);
}

// --- paper --------------------------------------------------------------------------------------------

function paper(client) {
  const base = `/clients/${client.client}`;
  const link = (path, text) => h("a", { class: "action", href: `${base}/${path}`, target: "_blank", rel: "noopener" }, text);
  return h("section", { "aria-labelledby": "paper" }, h("h2", { id: "paper" }, "Paper"), h("p", { class: "actions" },
    client.plan && client.standing !== "held" && client.standing !== "ended" ? [link("handout.pdf", "Hand-out"), link("handout.pdf?large=true", "Hand-out, large print")] : null,
    link("summary.pdf", "Summary for the file"), link("summary.pdf?words=true", "Summary with every message")),
    client.standing === "held" ? h("p", { class: "quiet" }, "No hand-out while the client is on hold.") : null);
}

// --- erasing ------------------------------------------------------------------------------------------

// Asked twice: what is erased does not come back.
function erasing(client) {
  if (session.role !== "clinician") return null;
  const fault = h("p", { class: "fault", role: "alert" });
  const why = h("input", { name: "why", maxlength: 400, autocomplete: "off" });
  const code = h("input", { name: "code", maxlength: 8, autocomplete: "off", autocapitalize: "characters" });
  async function erase() {
    if (code.value.trim().toUpperCase() !== client.client) {
      fault.textContent = `Write the code ${client.client} to confirm.`;
      code.focus();
      return;
    }
    try {
      await post(`/clients/${client.client}/erase`, { why: why.value });
    } catch (problem) {
      fault.textContent = problem.told;
      return;
    }
    say("Erased.");
    location.hash = "#/clients";
  }
  return h("section", { "aria-labelledby": "erase" }, h("h2", { id: "erase" }, "Erase"), h("details", {}, h("summary", {}, "Erase this client for good"),
    h("p", {}, "Name, numbers and every word are gone afterwards, here and in the copies to come. Keep the summary first if the clinic must have one."),
    field("Reason, for the record", why), field(`Code ${client.client}, to confirm`, code), h("p", { class: "actions" }, button("Erase for good", erase, { class: "danger" })), fault));
}

// --- what may be done ---------------------------------------------------------------------------------

function settings(client, page) {
  const fault = h("p", { class: "fault", role: "alert" });
  const base = `/clients/${client.client}`;
  const until = h("input", { type: "date", name: "until" });
  const why = choice("why", WHYS, "away");
  const needs = h("input", { name: "needs", value: client.needs ?? "", maxlength: 400, autocomplete: "off" });
  const barred = client.standing === "paused" || client.standing === "suspended";
  return h("section", { "aria-labelledby": "do" }, h("h2", { id: "do" }, "Change"),
    h("div", { class: "search" }, field("Needs, for whoever rings", needs), button("Keep", () => change(base, { needs: needs.value }, fault, page, "Kept."))),
    barred ? h("p", { class: "actions" }, button("Reminders go on again", () => change(`${base}/resume`, {}, fault, page, "Reminders go on."), { class: "main" }))
      : h("div", { class: "search" }, field("No reminders up to and including", until), field("Because", why),
        button("Pause", () => change(`${base}/pause`, { until: until.value, why: why.value }, fault, page, "Paused."))), fault);
}

// Who else has the phone. Texts to each begin with a letter, and so do answers.
function shares({ letter, with: others }) {
  const names = others.map((o) => `${o.name}${o.letter ? ` (${o.letter})` : ""}`).join(", ");
  return letter ? `Shares the phone with ${names}: texts and answers begin with ${letter}.` : `Shares the phone with ${names}: answers go to a person.`;
}

const title = (client) => h("header", { class: "person" }, h("h1", {}, client.name),
  h("p", {}, h("span", { class: `standing ${client.standing.replace(" ", "-")}` }, STANDINGS[client.standing] ?? client.standing),
    h("span", { class: "phone" }, phone(client.phone)), h("span", { class: "quiet" }, `${CHANNELS[client.channel]}, code ${client.client}${client.born ? `, born ${client.born}` : ""}`)),
  client.shares ? h("p", { class: "quiet" }, shares(client.shares)) : null,
  client.also ? h("p", { class: "quiet" }, `Entered more than once: also ${client.also.join(", ")}.`) : null,
  client.needs ? h("p", { class: "needs" }, client.needs) : null);

export async function client([id], page) {
  const base = `/clients/${encodeURIComponent(id ?? "")}`;
  const found = await get(base);
  const since = new Date(Date.parse((await get("/status")).now) - 28 * 86400000).toISOString().slice(0, 19) + "Z";
  const [data, measured, messages, replies, choices] = await Promise.all([get(`${base}/course?days=56`), get(`${base}/measures`),
    get(`/messages?client=${found.client}&since=${since}`), get(`/replies?client=${found.client}&since=${since}`), get("/programmes")]);
  const programme = choices.programmes.find((p) => p.key === found.programme);
  return h("article", { class: "one" }, title(found), open(data, page),
    h("section", { "aria-labelledby": "course" }, h("h2", { id: "course" }, "Course"), course(data), legend(),
      data.sessions.length > 0 ? h("details", { class: "whole" }, h("summary", {}, "Half a year at a glance"),
        h("img", { src: `${base}/course.svg?days=182`, alt: `Stretch, pain, range and sessions of half a year, week by week. The last eight weeks: ${data.words}`, loading: "lazy" })) : null),
    h("div", { class: "two" }, await readiness(found, programme?.stages ?? [], page), plan(found)),
    measures(found, measured, programme ?? choices.programmes[0], page),
    paper(found), settings(found, page), thread(messages, replies, found), erasing(found));
}
