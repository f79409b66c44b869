// SPDX-License-Identifier: Apache-2.0
// People to ring: number, needs, what to ask, and a place for what they said.

import { get, post, session } from "./api.js";
import { h, field, say } from "./dom.js";
import { takeAndClose } from "./matters.js";
import { reportFields } from "./report.js";
import { firstUp, kindWords, phone, reasonWords } from "./words.js";

// What to ask, by the matter. Common practice; a clinician should go through it with whoever rings.
const ASK = {
  session: ["Did you do your stretches today: all, some, or none?", "How strong was the pull, from 0 to 10?", "Any pain, from 0 to 10? Where?",
    "Anything new since we last spoke: a fall, numbness, a swollen calf, chest pain, trouble with the bladder?"],
  pain: ["Where is it, and what were you doing when it came?", "How strong is it now, from 0 to 10? At night, at rest?",
    "Any numbness, tingling, weakness, or trouble with bladder or bowel?", "Any fall or knock?", "Please do not stretch until a clinician has said so."],
  "missed-run": ["How are you? Is anything in the way of the stretches?", "Any pain or worry about them?", "Would another time of day suit better?"],
  fall: ["Are you hurt? Did you hit your head? Are you on blood thinners?", "Can you stand and walk as before?", "Any pain in back, hip or wrist?",
    "Please do not stretch until a clinician has said so."],
  clot: ["Is the calf warm, swollen, red or sore? One side only?", "Any chest pain or shortness of breath? Then ring the emergency number now.",
    "Please do not stretch or rub it; it must be looked at today."],
  "height-loss": ["Any new pain in the back, or one that came with a cough, a lift or a stumble?", "Any numbness, weakness, or trouble with bladder or bowel?",
    "Was it measured without shoes, in the morning, by the same measure?", "Please do not stretch until a clinician has said so."],
  stopped: ["You asked for no more messages, and none will come.", "Is there anything about the stretches that we should know?", "Would a call now and then suit better?"],
  undeliverable: ["Is the number or address still right?", "Which way would you like to hear from us?"],
};
const URGENT = ["Is somebody with you?", "If it is still so: ring the emergency number now. I stay on the line until you have.", "Please do not stretch."];
const NOW_SIGNS = ["heart", "stroke", "cauda", "crisis"];

function script(item) {
  const lines = NOW_SIGNS.includes(item.why) ? URGENT : ASK[item.why] ?? ASK.pain;
  return h("details", { class: "script", open: item.why === "session" }, h("summary", {}, "What to say and ask"),
    h("p", {}, `“Good day, this is ${session.name} from ${session.clinic}. Is this a good moment?”`), h("ol", {}, lines.map((line) => h("li", {}, line))));
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
