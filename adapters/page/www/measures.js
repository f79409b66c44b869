// SPDX-License-Identifier: Apache-2.0
// What was measured, set beside what was before, and a short form for the next.

import { post, session } from "./api.js";
import { range } from "./course.js";
import { h, choice, field, say } from "./dom.js";
import { date, firstUp } from "./words.js";

const FIELDS = { door: ["distance_cm", "Hip to frame, cm"], heel: ["height_cm", "Heel height, cm"] };
const UNITS = { deg: "°", cm: " cm", s: " s", points: " points" };

function shown(m) {
  const change = m.change === undefined || m.change === null ? "" : `${m.change > 0 ? "+" : ""}${m.change}${UNITS[m.unit] ?? ""}, ${m.verdict ?? m.is ?? ""}`;
  return h("tr", {}, h("th", { scope: "row" }, date(m.date)), h("td", { "data-name": "What" }, firstUp(m.movement.replace(/-/g, " "))), h("td", { "data-name": "Side" }, m.side ?? "–"),
    h("td", { "data-name": "Reading" }, `${m.value}${UNITS[m.unit] ?? ""}`), h("td", { "data-name": "How" }, m.method, m.supports_only ? h("span", { class: "quiet" }, " (by the client)") : null), h("td", { "data-name": "Since before" }, change || "–"));
}

function form(client, programme, page) {
  const fault = h("p", { class: "fault", role: "alert" });
  const measure = choice("movement", programme.measures.map((m) => [m.key, m.title]), programme.measures[0]?.key);
  const method = choice("method", [], "");
  const side = choice("side", [["left", "left"], ["right", "right"]], "left");
  const reading = h("input", { name: "reading", type: "number", step: "0.5", required: true });
  const on = h("input", { name: "date", type: "date" });
  const place = field("Reading", reading);
  const how = field("How", method);
  how.classList.add("long");
  const now = () => programme.measures.find((m) => m.key === measure.value);
  const what = () => FIELDS[method.value] ?? (now().unit === "deg" ? ["angle_deg", "Angle, degrees"] : now().unit === "cm" ? ["distance_cm", "Distance, cm"] : ["value", `Reading, ${now().unit}`]);
  const name = () => {
    place.querySelector("label").textContent = what()[1];
  };
  const methods = () => {
    method.replaceChildren(...now().methods.map((m) => h("option", { value: m.key }, m.title)));
    name();
  };

  async function run(event) {
    event.preventDefault();
    try {
      await post(`/clients/${client.client}/measures`, { movement: measure.value, method: method.value, side: side.value, [what()[0]]: Number(reading.value), ...(on.value ? { date: on.value } : {}) });
    } catch (problem) {
      fault.textContent = problem.told;
      return;
    }
    say("Measure kept.");
    document.activeElement?.blur();
    await page.refresh();
  }

  measure.addEventListener("change", methods);
  method.addEventListener("change", name);
  methods();
  return h("details", {}, h("summary", {}, "Write down a measure"), h("form", { class: "search", onsubmit: run }, field("What", measure), how, field("Side", side), place, field("On, if not today", on),
    h("button", { class: "main" }, "Keep")), fault);
}

export function measures(client, data, programme, page) {
  const list = [...data.measures].reverse();
  return h("section", { "aria-labelledby": "measures" }, h("h2", { id: "measures" }, "Measures"), range(data.measures, client.plan?.goal_deg),
    list.length === 0 ? h("p", { class: "quiet" }, "Nothing measured yet.") : h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "Measures" }, h("table", {},
      h("thead", {}, h("tr", {}, ["Date", "What", "Side", "Reading", "How", "Since before"].map((t) => h("th", { scope: "col" }, t)))), h("tbody", {}, list.map(shown)))),
    data.outlook.filter((o) => o.to_goal && o.readings > 1).map((o) => h("p", {}, `${firstUp(o.side ?? o.movement)}: ${o.latest}, goal ${o.goal}: ${o.to_goal === "no slope" ? "no steady change so far" : o.to_goal}`)),
    session.role === "clinician" && programme?.measures.length > 0 ? form(client, programme, page) : null);
}
