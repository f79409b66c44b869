// SPDX-License-Identifier: Apache-2.0
// How osier itself stands: its line, gateways, what waits.

import { get } from "./api.js";
import { h } from "./dom.js";
import { count, when } from "./words.js";

const CIRCUITS = { closed: "works", open: "fails; tried again by and by", trying: "is being tried again" };

const KINDS = { "http-sms": ", text messages:", mail: ", e-mail:", program: ", by a program:" };

function gateway(g) {
  return h("li", {}, h("strong", {}, g.name), `${KINDS[g.kind] ?? ""} `,
    g.sends === false ? h("span", { class: "flag" }, "WRITES TO A FOLDER, SENDS NOTHING") : CIRCUITS[g.circuit] ?? g.circuit,
    g.in_flight > 0 ? `, ${g.in_flight} on the way` : "", g.failures > 0 ? `, ${count(g.failures, "failure", "failures")} in a row` : "");
}

function poll(p, zone) {
  return h("li", {}, h("strong", {}, p.name), p.last ? `, last asked ${when(p.last, zone)}` : ", not asked yet",
    p.failures > 0 ? h("span", { class: "flag" }, `${count(p.failures, "failure", "failures")} in a row`) : "");
}

const CLOCK_APART_MS = 60000;

// How another installation of the clinic stands to this one.
function peer(p, zone) {
  const apart = p.clock_ahead_ms ?? 0;
  const facts = [p.cut ? `unpaired ${when(p.cut, zone)}` : p.last ? `last heard of ${when(p.last, zone)}` : "not heard of yet"];
  if (!p.cut && p.lacks_there > 0) facts.push(`${count(p.lacks_there, "entry", "entries")} of ours had not reached it then`);
  if (!p.cut && p.lacks_here > 0) facts.push(`${count(p.lacks_here, "entry", "entries")} of its had not reached us then`);
  if (!p.cut && Math.abs(apart) > CLOCK_APART_MS)
    facts.push(`its clock was ${count(Math.round(Math.abs(apart) / 1000), "second", "seconds")} ${apart > 0 ? "ahead of" : "behind"} ours`);
  return h("li", {}, h("strong", {}, p.name ?? p.replica), p.address ? ` at ${p.address}, ` : ", calls this one, ", facts.join("; "),
    p.problem && !p.cut ? h("span", { class: "flag" }, p.problem) : null);
}

function copy(backup, zone) {
  if (!backup) return "none is made; see backup in clinic.yaml";
  if (backup.problem) return h("strong", { class: "flag" }, `failed: ${backup.problem}`);
  return `${backup.at ? `last made ${when(backup.at, zone)}` : "none yet"}, next ${when(backup.next, zone)}`;
}

export async function standing() {
  const [data, sync, choices] = await Promise.all([get("/status"), get("/sync"), get("/programmes")]);
  const zone = choices.zone;
  return h("article", {}, h("h1", {}, "How osier stands"),
    data.made_up_clock ? h("p", { class: "notice" }, "The clock is made up: this is a rehearsal, and nobody real is written to.") : null,
    data.line?.down ? h("p", { class: "notice" }, `The line has been down since ${when(data.line.since, zone)}: no gateway can be reached, and messages wait.`) : null,
    sync.conflicts > 0 ? h("p", { class: "notice" }, `${count(sync.conflicts, "field was", "fields were")} set differently by two people: osier sync conflicts shows them.`) : null,
    h("dl", { class: "facts" },
      h("dt", {}, "Time"), h("dd", {}, when(data.now, zone)),
      h("dt", {}, "Clients"), h("dd", {}, data.clients),
      h("dt", {}, "Messages that wait"), h("dd", {}, data.waiting === 0 ? "none" : `${data.waiting}, the oldest since ${when(data.oldest_waiting, zone)}`),
      h("dt", {}, "Next thing due"), h("dd", {}, data.next_due ? when(data.next_due, zone) : "nothing"),
      h("dt", {}, "Open matters"), h("dd", {}, data.alerts),
      h("dt", {}, "Replies to settle"), h("dd", {}, data.unread),
      h("dt", {}, "Copy at night"), h("dd", {}, copy(data.backup, zone)),
      h("dt", {}, "This installation"), h("dd", {}, sync.name === sync.replica ? sync.replica : `${sync.name} (${sync.replica})`),
      h("dt", {}, "Who sends"), h("dd", {}, sync.sender.here ? "this one"
        : h("strong", {}, `not this one: ${sync.sender.name ?? sync.sender.replica ?? "nobody"}${sync.sender.why ? `; ${sync.sender.why}` : ""}`))),
    h("section", {}, h("h2", {}, "Gateways"), h("ul", { class: "plainlist" }, data.gateways.map(gateway))),
    data.polls.length > 0 ? h("section", {}, h("h2", {}, "Asking for replies"), h("ul", { class: "plainlist" }, data.polls.map((p) => poll(p, zone)))) : null,
    h("section", {}, h("h2", {}, "Other installations"), sync.peers.length > 0 ? h("ul", { class: "plainlist" }, sync.peers.map((p) => peer(p, zone)))
      : h("p", { class: "quiet" }, "None: nothing is exchanged with another machine.")));
}
