// SPDX-License-Identifier: Apache-2.0
// The clients, with their last four weeks at a glance.

import { get } from "./api.js";
import { h, field } from "./dom.js";
import { count, STANDINGS, STATES } from "./words.js";

const LETTERS = { d: "done", p: "partly", n: "not", s: "silent", u: "unasked", e: "excused", a: "asked" };

// The best that happened on a day stands for it: half a day is not a missed one.
function stateOf(letters) {
  for (const letter of ["n", "d", "p", "a", "s", "u", "e"]) if (letters.includes(letter)) {
    if (letter === "n" && letters.includes("d")) return "partly";
    if (letter === "d" && /[psu]/.test(letters)) return "partly";
    return LETTERS[letter];
  }
  return "none";
}

export function weeks(days) {
  const counts = {};
  for (const letter of days.join("")) counts[LETTERS[letter]] = (counts[LETTERS[letter]] ?? 0) + 1;
  const words = Object.entries(counts).map(([state, n]) => `${n} ${STATES[state]}`).join(", ");
  const young = days.slice(0, 14).every((letters) => letters === "");
  return h("div", { class: young ? "weeks young" : "weeks", role: "img", "aria-label": `Last four weeks: ${words || "no sessions"}` },
    days.map((letters) => h("span", { class: `mark ${stateOf(letters)}` })));
}

export function legend() {
  return h("ul", { class: "legend", "aria-label": "What the marks mean" },
    ["done", "partly", "not", "silent", "unasked", "excused", "asked"].map((state) =>
      h("li", {}, h("span", { class: `mark ${state}`, "aria-hidden": "true" }), STATES[state])));
}

function row(item) {
  return h("li", { class: "client", "data-key": item.client },
    h("div", {}, h("a", { href: `#/client/${item.client}` }, item.name),
      h("p", { class: "quiet" }, [item.title, item.clinician].filter(Boolean).join(" · "))),
    h("p", { class: `standing ${item.standing.replace(" ", "-")}` }, STANDINGS[item.standing] ?? item.standing,
      item.alerts > 0 ? h("strong", { class: "flag" }, count(item.alerts, "open matter", "open matters")) : null),
    weeks(item.days));
}

let wanted = "";
let skip = 0;

export async function clients(rest, page) {
  const data = await get(`/roster?name=${encodeURIComponent(wanted)}&skip=${skip}`);
  const input = h("input", { type: "search", name: "name", value: wanted, autocomplete: "off", maxlength: 60 });
  const form = h("form", { class: "search", role: "search", onsubmit: search }, field("Name or code", input), h("button", {}, "Find"));

  async function search(event) {
    event.preventDefault();
    wanted = input.value.trim();
    skip = 0;
    await page.refresh();
  }

  async function move(by) {
    skip = Math.max(0, skip + by);
    await page.refresh();
    window.scrollTo(0, 0);
  }

  const last = Math.min(skip + data.list.length, data.found);
  return h("article", {}, h("h1", {}, "Clients"), form,
    h("p", { class: "quiet", role: "status" }, data.found === 0 ? "Nobody of that name."
      : wanted || data.found > data.shown ? `${skip + 1} to ${last} of ${count(data.found, "client", "clients")}` : count(data.found, "client", "clients")),
    legend(),
    h("ul", { class: "clients" }, data.list.map(row)),
    data.found > data.shown ? h("p", { class: "actions" },
      h("button", { type: "button", disabled: skip === 0, onclick: () => move(-data.shown) }, "Before"),
      h("button", { type: "button", disabled: last >= data.found, onclick: () => move(data.shown) }, "After")) : null);
}
