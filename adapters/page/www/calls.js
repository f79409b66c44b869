// SPDX-License-Identifier: Apache-2.0
// People to ring: number, needs, what to ask, and a place for what they said.

import { get, post, session } from "./api.js";
import { h, field, say } from "./dom.js";
import { takeAndClose } from "./matters.js";
import { reportFields } from "./report.js";
import { firstUp, kindWords, phone, reasonWords } from "./words.js";

function script(item) {
  return h("details", { class: "script", open: item.why === "session" }, h("summary", {}, "What to say and ask"),
    h("p", {}, `“Good day, this is ${session.name} from ${session.clinic}. Is this a good moment?”`), h("ol", {}, item.ask.map((line) => h("li", {}, line))));
}

// After the call about a session: what was said, kept as a report.
function sessionForm(item, page) {
  const fields = reportFields(item.for);
  const words = h("input", { name: "words", maxlength: 1000, autocomplete: "off" });
  const fault = h("p", { class: "fault", role: "alert" });
  return h("form", { class: "after", onsubmit: run }, fields.element,
    field("Or in their own words", words, "Words are read like a text: a warning sign in them raises an alert."), fault,
    h("button", { class: "main" }, "Write it down"));

  async function run(event) {
    event.preventDefault();
    const body = words.value ? { session: item.for, words: words.value } : { session: item.for, ...fields.value() };
    if (!words.value && !body.done) {
      fault.textContent = "Say whether it was done, or write their words.";
      return;
    }
    try {
      await post(`/clients/${item.client}/reports`, body);
      say(`${item.name}: written down.`);
      document.activeElement?.blur();
      await page.refresh();
    } catch (problem) {
      fault.textContent = problem.told;
    }
  }
}

function person(item, page) {
  const mine = item.state === "taken" && item.taken_by === session.name;
  return h("li", { class: `matter ${item.class ?? "call"}`, "data-key": item.for },
    h("p", { class: "klass" }, item.class === "now" ? "NOW" : item.class === "today" ? "Today" : "By telephone"),
    h("div", { class: "body" },
      h("h2", {}, h("a", { href: `#/client/${item.client}` }, item.name)),
      h("p", {}, h("span", { class: "phone" }, phone(item.phone))),
      item.needs ? h("p", { class: "needs" }, item.needs) : null,
      h("p", {}, firstUp(kindWords(item.why, item.reasons)),
        item.reasons?.length > 0 ? h("span", { class: "quiet" }, ` (${item.reasons.map(reasonWords).join("; ")})`) : null),
      item.taken_by ? h("p", { class: "quiet" }, `Taken by ${mine ? "you" : item.taken_by}.`) : null,
      script(item),
      item.why === "session" ? sessionForm(item, page) : null),
    item.why === "session" ? null
      : h("div", { class: "actions" }, takeAndClose(item.for, item, page, item.name)));
}

export async function calls(rest, page) {
  const list = await get("/calls");
  page.tally({ calls: [list.filter((c) => c.state !== "taken").length, "to take"] });
  return h("article", {}, h("h1", {}, "People to ring"),
    h("p", { class: "lead" }, "In this order: signs and pain first, then those who practise by telephone."),
    list.length > 0 ? h("ol", { class: "matters" }, list.map((item) => person(item, page))) : h("p", { class: "calm" }, "Nobody is to be rung now."));
}
