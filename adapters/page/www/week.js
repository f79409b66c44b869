// SPDX-License-Identifier: Apache-2.0
// The clinic's week, the same account that is mailed.

import { get } from "./api.js";
import { h, field } from "./dom.js";
import { count, date, firstUp, kindWords, painWords, phone, tenth } from "./words.js";

const BARS = { stop: "wants no messages", pause: "paused", hold: "on hold", suspend: "texts stopped, please look", end: "ended" };
const OUTCOMES = { resume: "goes on", "step-back": "one stage back", refer: "to be seen", end: "ended" };
const READY = { "move on": "ready to move on; please confirm", "step back": "better one stage back; please look", stay: "stays at this stage" };

function matterWords(m) {
  const what = kindWords(m.named, m.value === null ? [] : [{ value: Number(m.value) }]);
  const state = m.state === "closed" ? `closed: ${OUTCOMES[m.outcome] ?? m.outcome}` : m.state === "taken" ? `taken by ${m.by}` : "not taken yet";
  return `${what}, ${date(m.date)} (${state})`;
}

function counts(s) {
  return [[s.done, "done"], [s.partly, "in part"], [s.not, "not done"], [s.silent, "no answer"], [s.unasked, "not asked"], [s.excused, "excused"]]
    .filter(([n]) => n > 0).map(([n, word]) => `${n} ${word}`).join(", ") || "no sessions";
}

// "Stays" goes without saying where there is something else to say.
function outstanding(c) {
  const lines = [c.bar ? BARS[c.bar] ?? c.bar : null, ...(c.alerts ?? []).map(matterWords)].filter(Boolean);
  if (c.readiness && !c.bar && (c.readiness !== "stay" || lines.length === 0)) lines.push(READY[c.readiness]);
  return lines;
}

function felt(c) {
  const stretch = c.intensity === null ? null : `stretch ${tenth(c.intensity)}${c.intensity_trend ? `, ${c.intensity_trend}` : ""}`;
  const most = c.pain > 0 && c.pain_trend ? `${c.pain}, ${c.pain_trend}` : c.pain;
  return [stretch, painWords(c.pain === null ? -1 : c.pain, c.pain_bare, c.pain_some, most)].filter(Boolean).join("; ") || "–";
}

function clientRow(c) {
  return h("tr", {}, h("th", { scope: "row" }, h("a", { href: `#/client/${c.client}` }, c.name), h("span", { class: "quiet" }, c.stage ?? "no plan")),
    h("td", { "data-name": "Sessions" }, counts(c.sessions)),
    h("td", { "data-name": "Stretch and pain" }, felt(c)),
    h("td", { "data-name": "What stands out" }, outstanding(c).map((text) => h("p", {}, firstUp(text)))));
}

let of = "";

export async function week(rest, page) {
  const data = await get(`/week?format=json${of ? `&of=${of}` : ""}`);
  const total = data.clients.reduce((sum, c) => {
    for (const key of ["prescribed", "done", "partly", "not", "silent", "unasked", "excused"]) sum[key] = (sum[key] ?? 0) + c.sessions[key];
    return sum;
  }, {});
  const ready = data.clients.filter((c) => c.readiness === "move on" && !c.bar);
  const input = h("input", { type: "date", name: "of", value: of || data.from });
  return h("article", {}, h("h1", {}, `The week from ${date(data.from)} to ${date(data.to)}`),
    h("form", { class: "search", onsubmit: async (event) => {
      event.preventDefault();
      of = input.value;
      await page.refresh();
    } }, field("A day of another week", input), h("button", {}, "Show"),
      h("a", { class: "action", href: `/week.pdf${of ? `?of=${of}` : ""}`, target: "_blank", rel: "noopener" }, "This week as PDF")),
    h("ul", { class: "figures" },
      h("li", {}, h("strong", {}, data.practised), ` of ${count(data.asked, "client", "clients")} practised`),
      h("li", {}, h("strong", {}, data.calls.length), data.calls.length === 1 ? " needs a call" : " need a call"),
      h("li", {}, h("strong", {}, ready.length), ready.length === 1 ? " is ready to move on" : " are ready to move on")),
    h("section", {}, h("h2", {}, "Please call"),
      data.calls.length === 0 ? h("p", { class: "calm" }, "Nobody.") : h("ol", { class: "plainlist" }, data.calls.map((c) =>
        h("li", {}, h("a", { href: `#/client/${c.client}` }, c.name), ` ${phone(c.phone)}`, c.needs ? h("span", { class: "needs" }, c.needs) : null,
          c.reasons.map((m) => h("p", { class: "quiet" }, firstUp(matterWords(m)))))))),
    h("section", {}, h("h2", {}, "All sessions"), h("p", {}, `${total.prescribed ?? 0} prescribed: ${counts(total)}.`)),
    h("section", {}, h("h2", {}, "Each client"),
      h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "Each client" }, h("table", {},
        h("thead", {}, h("tr", {}, ["Client", "Sessions", "Stretch and pain", "What stands out"].map((t) => h("th", { scope: "col" }, t)))),
        h("tbody", {}, data.clients.map(clientRow))))));
}
