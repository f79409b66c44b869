// SPDX-License-Identifier: Apache-2.0
// What a clinician must act on, each with its reasons, taken by one press.

import { post, session } from "./api.js";
import { h, button, choice, field, say } from "./dom.js";
import { firstUp, kindWords, lasting, phone, reasonWords } from "./words.js";

export async function act(page, path, body, done) {
  try {
    await post(path, body);
    say(done);
  } catch (fault) {
    say(`Not done: ${fault.why}`);
  }
  await page.refresh();
}

const CLASS_WORDS = { now: "NOW", today: "Today", digest: "When you can" };
const OUTCOMES = [["resume", "goes on as before"], ["step-back", "one stage back"], ["refer", "to be seen by somebody"], ["end", "ends the programme"]];

// Closing needs an outcome; a hold is lifted by clinicians alone.
export function closing(id, page, forClinic) {
  const outcome = choice("outcome", forClinic ? [["resume", "seen to"]] : OUTCOMES, "resume");
  const note = h("input", { name: "note", maxlength: 400, autocomplete: "off" });
  const fault = h("p", { class: "fault", role: "alert" });
  const form = h("form", { class: "inline", "data-open": "1", onsubmit: run },
    forClinic ? null : field("What comes of it", outcome), field("Note for the record", note), fault, h("button", { class: "main" }, "Close the matter"),
    button("Leave it open", () => form.replaceWith(opener())));

  async function run(event) {
    event.preventDefault();
    try {
      await post(`/alerts/${id}/close`, { outcome: outcome.value, ...(note.value ? { note: note.value } : {}) });
    } catch (problem) {
      fault.textContent = problem.why;
      return;
    }
    form.removeAttribute("data-open");
    say("Closed.");
    await page.refresh();
  }

  function opener() {
    const open = button("Close …", () => {
      open.replaceWith(form);
      form.querySelector("select, input").focus();
    });
    return open;
  }
  return opener();
}

function state(item, now) {
  if (item.state === "taken") return `taken by ${item.taken_by === session.name ? "you" : item.taken_by}, open for ${lasting(item.at, now)}`;
  return item.at ? `not taken, open for ${lasting(item.at, now)}` : "";
}

function actions(item, page) {
  if (item.why === "session") return h("a", { class: "action", href: "#/calls" }, "Ring and write down");
  const mine = item.state === "taken" && item.taken_by === session.name;
  return [mine ? null : button(item.state === "taken" ? "Take it over" : "I take this", () => act(page, `/alerts/${item.for}/take`, {}, `${item.name}: taken by you.`), item.state === "taken" ? {} : { class: "main" }),
    item.state === "taken" ? closing(item.for, page, false) : null];
}

function matter(item, data, page) {
  return h("li", { class: `matter ${item.class ?? "call"}`, "data-key": item.for },
    h("p", { class: "klass" }, CLASS_WORDS[item.class] ?? "By telephone"),
    h("div", { class: "body" },
      h("h3", {}, h("a", { href: `#/client/${item.client}` }, item.name), " ", h("span", { class: "plainword" }, kindWords(item.why, item.reasons))),
      h("p", {}, h("span", { class: "phone" }, phone(item.phone)), item.needs ? h("span", { class: "needs" }, item.needs) : null),
      item.reasons?.length > 0
        ? h("ul", { class: "reasons" }, item.reasons.map((r) => h("li", {}, firstUp(reasonWords(r))))) : null,
      h("p", { class: "quiet" }, state(item, data.now))),
    h("div", { class: "actions" }, actions(item, page)));
}

export function matters(list, data, page) {
  if (list.length === 0) return h("p", { class: "calm" }, "Nobody needs a call.");
  return h("ol", { class: "matters" }, list.map((item) => matter(item, data, page)));
}

export function clinicMatters(data, page) {
  if (data.clinic.length === 0) return null;
  return h("section", { "aria-labelledby": "house" }, h("h2", { id: "house" }, "For the clinic itself"),
    h("ul", { class: "matters" }, data.clinic.map((item) =>
      h("li", { class: `matter ${item.class}`, "data-key": item.alert },
        h("p", { class: "klass" }, CLASS_WORDS[item.class] ?? ""),
        h("div", { class: "body" }, h("h3", {}, firstUp(kindWords(item.kind, item.reasons))),
          h("ul", { class: "reasons" }, item.reasons.map((r) => h("li", {}, [r.value, r.words].filter(Boolean).join(": ")))),
          h("p", { class: "quiet" }, state(item, data.now))),
        h("div", { class: "actions" },
          item.kind === "unread" ? h("a", { class: "action", href: "#/replies" }, "See the replies") : null,
          item.state === "taken" && item.taken_by === session.name ? closing(item.alert, page, true)
            : button("I take this", () => act(page, `/alerts/${item.alert}/take`, {}, "Taken by you."), { class: "main" }))))));
}
