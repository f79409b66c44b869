// SPDX-License-Identifier: Apache-2.0
// Replies that a person must settle, osier's reading beside the words; and those to be seen once.

import { get, post } from "./api.js";
import { h, button, say } from "./dom.js";
import { act } from "./matters.js";
import { reportFields } from "./report.js";
import { count, phone, when } from "./words.js";

// What osier makes of the words, in words.
export function readingWords(reading) {
  if (!reading) return "nothing";
  const parts = [];
  if (reading.warning) parts.push(`warning sign: ${reading.warning}`);
  if (reading.command) parts.push(`the command ${String(reading.command).toUpperCase()}`);
  if (reading.done) parts.push({ yes: "done", partly: "done in part", no: "not done" }[reading.done]);
  if (reading.intensity !== null && reading.intensity !== undefined)
    parts.push(reading.ambiguous_high ? `${reading.intensity}, taken for pain until it is known to be the stretch` : `stretch ${reading.intensity}`);
  if (reading.pain !== null && reading.pain !== undefined) parts.push(reading.pain === "some" ? "some pain" : `pain ${reading.pain}`);
  if (reading.letter) parts.push(`letter ${reading.letter} of the weekly question`);
  if (reading.person) parts.push("wants a person");
  return parts.length > 0 ? parts.join(", ") : "nothing for certain";
}

function from(reply, names) {
  const name = names.get(reply.client);
  return reply.client ? h("a", { href: `#/client/${reply.client}` }, name ?? reply.client) : h("span", {}, phone(reply.from));
}

function hasReading(reading) {
  return Boolean(reading && (reading.done || typeof reading.intensity === "number" || reading.pain !== null && reading.pain !== undefined));
}

function settling(reply, page) {
  const fault = h("p", { class: "fault", role: "alert" });
  const path = `/unread/${reply.reply}/settle`;
  const whose = reply.client !== null && reply.session !== null;
  const others = reply.client === null ? reply.candidates ?? [] : [];
  const rest = reply.reading?.rest ?? null;
  const send = async (body, done) => {
    try {
      await post(path, body);
    } catch (problem) {
      fault.textContent = problem.told;
      return;
    }
    say(done);
    document.activeElement?.blur();
    await page.refresh();
  };
  const known = reply.reading ?? {};
  const asRead = { ...(known.done ? { done: known.done } : {}), ...(typeof known.intensity === "number" ? { intensity: known.intensity } : {}),
    ...(known.pain !== null && known.pain !== undefined ? { pain: known.pain } : {}) };
  const fields = reportFields(reply.reply, known);
  return h("div", { class: "settle" },
    h("div", { class: "actions" },
      whose && hasReading(known) ? button("osier read it right", () => send(asRead, "Settled as read."), { class: "main" }) : null,
      others.map((c) => button(`It is from ${c.name}`, () => send({ ...asRead, client: c.client }, `Settled as ${c.name}'s.`), { class: "main" })),
      button("Nothing to count", () => send({}, "Settled; nothing is counted."), (whose && hasReading(known)) || others.length > 0 ? {} : { class: "main" })),
    whose ? h("details", {}, h("summary", {}, "It means something else"), fields.element,
      button("Settle like this", () => send(fields.value(), "Settled."), { class: "main" })) : null,
    rest ? h("p", { class: "quiet" }, `Not read by any rule: “${rest}”`) : null, fault);
}

function unread(reply, page, names, zone) {
  return h("li", { class: "reply", "data-key": reply.reply },
    h("div", { class: "words" }, h("p", { class: "quiet" }, from(reply, names), `, ${when(reply.at, zone)}`), h("blockquote", {}, reply.text ?? "(no text)")),
    h("div", { class: "read" }, h("p", {}, h("span", { class: "quiet" }, "osier reads: "), h("strong", {}, readingWords(reply.reading))),
      reply.why ? h("p", { class: "quiet" }, `Waits because: ${reply.why}`) : null,
      reply.suggests ? h("p", { class: "quiet" }, `If so: ${reply.suggests}`) : null, settling(reply, page)));
}

function glance(reply, page, names, zone) {
  return h("li", { class: "reply", "data-key": reply.reply },
    h("div", { class: "words" }, h("p", { class: "quiet" }, from(reply, names), `, ${when(reply.at, zone)}`), h("blockquote", {}, reply.text ?? "(no text)")),
    h("div", { class: "read" }, h("p", {}, h("span", { class: "quiet" }, "osier read: "), h("strong", {}, readingWords(reply.reading))),
      h("div", { class: "actions" }, button("Seen", () => act(page, `/glance/${reply.reply}/seen`, {}, "Seen."), { class: "main" }),
        button("osier missed something", () => act(page, `/glance/${reply.reply}/seen`, { missed: "other" },
          "Counted for the digest. Open an alert, or write the session down, at the client.")))));
}

async function namesOf(lists) {
  const names = new Map();
  const ids = new Set(lists.flat().map((r) => r.client).filter(Boolean));
  for (const id of ids) {
    const found = await get(`/roster?name=${encodeURIComponent(id)}`);
    for (const item of found.list) names.set(item.client, item.name);
  }
  return names;
}

export async function replies(rest, page) {
  const [waiting, once, choices] = await Promise.all([get("/unread"), get("/glance"), get("/programmes")]);
  const names = await namesOf([waiting, once]);
  page.tally({ replies: [waiting.length + once.length, "waiting"] });
  return h("article", {}, h("h1", {}, "Replies"),
    h("section", { "aria-labelledby": "settle" }, h("h2", { id: "settle" }, "To settle"),
      waiting.length > 0 ? [h("p", { class: "lead" }, `${count(waiting.length, "reply", "replies")} that osier would not decide about. Read the words, then press once.`),
        h("ol", { class: "replies" }, waiting.map((r) => unread(r, page, names, choices.zone)))] : h("p", { class: "calm" }, "Nothing waits to be settled.")),
    h("section", { "aria-labelledby": "once" }, h("h2", { id: "once" }, "To see once"),
      once.length > 0 ? [h("p", { class: "lead" }, "Read well enough, but there are more words in them. Somebody should have seen them."),
        h("ol", { class: "replies" }, once.map((r) => glance(r, page, names, choices.zone)))] : h("p", { class: "calm" }, "Nothing more to see.")));
}
