// SPDX-License-Identifier: Apache-2.0
// The day: whom to call first, what is due and done, what waits for a person.

import { get } from "./api.js";
import { h } from "./dom.js";
import { matters, clinicMatters } from "./matters.js";
import { clock, count, longDate, reportWords, STATES, when } from "./words.js";

const GROUPS = [
  ["not", "Not done or in part", ["not", "partly"]],
  ["asked", "Waiting for an answer", ["asked"]],
  ["done", "Done", ["done"]],
  ["rest", "Nothing to do", ["silent", "unasked", "excused"]],
];

// A client's own clock is named where it is not the clinic's.
const elsewhere = (item, zone) => item.zone && item.zone !== zone ? `${item.zone.replace(/_/g, " ")} time` : null;

function line(item, bare, zone) {
  return h("li", {}, h("span", { class: `mark ${item.state}`, "aria-hidden": "true" }),
    h("span", { class: "time" }, item.local.slice(11, 16)),
    h("a", { href: `#/client/${item.client}` }, item.name ?? item.client),
    h("span", { class: "quiet" }, [elsewhere(item, zone), bare ? null : STATES[item.state], reportWords(item)].filter(Boolean).join(", ")));
}

function bar(counts) {
  const parts = [["done", "done"], ["partly", "in part"], ["not", "not done"], ["asked", "waiting"], ["silent", "no answer"],
    ["unasked", "not asked"], ["excused", "excused"], ["coming", "to come"]].filter(([key]) => counts[key] > 0);
  if (parts.length === 0) return h("p", { class: "quiet" }, "No sessions today.");
  return h("ul", { class: "figures" }, parts.map(([key, label]) =>
    h("li", {}, h("strong", {}, counts[key]), " ", h("span", { class: `mark ${key === "coming" ? "planned" : key}`, "aria-hidden": "true" }), label)));
}

function sessions(data) {
  const groups = GROUPS.map(([key, title, states]) => [key, title, data.sessions.filter((s) => states.includes(s.state)), states]);
  const all = Object.entries(data.counts).filter(([key]) => key !== "coming").reduce((sum, [, n]) => sum + n, 0);
  return h("section", { "aria-labelledby": "due" }, h("h2", { id: "due" }, "Sessions today"), bar(data.counts),
    h("div", { class: "columns" },
      groups.filter(([, , list]) => list.length > 0).map(([key, title, list, states]) =>
        h("div", { "data-key": key }, h("h3", {}, title), h("ul", { class: "lines" }, list.map((s) => line(s, states.length === 1, data.zone))))),
      data.coming.length > 0
        ? h("div", { "data-key": "coming" }, h("h3", {}, "Still to come"), h("ul", { class: "lines" }, data.coming.map((s) => line(s, true, data.zone))),
          data.counts.coming > data.coming.length ? h("p", { class: "quiet" }, `and ${data.counts.coming - data.coming.length} more`) : null)
        : null),
    all > data.sessions.length ? h("p", { class: "quiet" }, `${data.sessions.length} of ${all} sessions are listed; the rest is done.`) : null);
}

function tasks(data) {
  const open = [];
  if (data.unread > 0) open.push(h("a", { href: "#/replies" }, count(data.unread, "reply to settle", "replies to settle")));
  if (data.glance > 0) open.push(h("a", { href: "#/replies" }, count(data.glance, "reply to see once", "replies to see once")));
  return h("p", { class: "tasks" }, open.length > 0 ? open : h("span", { class: "quiet" }, "No reply waits for you."));
}

export async function today(rest, page) {
  const [data, status] = await Promise.all([get("/today"), get("/status")]);
  const down = status.line?.down;
  data.down = down;
  data.gateways = status.gateways;
  const open = data.calls.filter((c) => c.state !== "taken").length;
  page.tally({ calls: [open, "to take"], replies: [data.unread + data.glance, "waiting"] });
  return h("article", {},
    h("h1", {}, longDate(data.date), h("span", { class: "quiet small" }, ` ${clock(data.now, data.zone)}${data.made_up_clock ? ", made-up clock" : ""}`)),
    down ? h("p", { class: "notice" }, `The clinic's line has been down since ${when(status.line.since, data.zone)}: no message goes out or comes in. What is still in time goes when it is back; warning signs that were texted are not known yet.`) : null,
    h("section", { "aria-labelledby": "first" }, h("h2", { id: "first" }, "Call first"),
      matters(data.calls, data, page),
      tasks(data)),
    clinicMatters(data, page),
    sessions(data));
}
