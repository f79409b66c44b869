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
    say(`Not done: ${fault.message}`);
  }
  await page.refresh();
}

const CLASS_WORDS = { now: "NOW", today: "Today", digest: "When you can" };
const OUTCOMES = [["resume", "goes on as before"], ["step-back", "one stage back"], ["refer", "to be seen by somebody"], ["end", "ends the programme"]];

// What the desk may say of it; a matter that holds its client is closed by clinicians alone.
const offered = () => session.role === "clinician" ? OUTCOMES : OUTCOMES.filter(([outcome]) => outcome === "resume");

// Closing needs an outcome, which nobody has chosen yet.
export function closing(id, page, forClinic) {
  const outcome = choice("outcome", forClinic ? [["resume", "seen to"]] : [["", "choose …"], ...offered()], forClinic ? "resume" : "", { required: true });
  const note = h("input", { name: "note", maxlength: 400, autocomplete: "off" });
  const fault = h("p", { class: "fault", role: "alert" });
  const form = h("form", { class: "inline", "data-open": "1", onsubmit: run },
    forClinic ? null : field("What comes of it", outcome, session.role === "clinician" ? null : "A clinician closes what holds a client."), field("Note for the record", note), fault, h("button", { class: "main" }, "Close the matter"),
    button("Leave it open", () => form.replaceWith(opener())));

  async function run(event) {
    event.preventDefault();
    try {
      await post(`/alerts/${id}/close`, { outcome: outcome.value, ...(note.value ? { note: note.value } : {}) });
    } catch (problem) {
      fault.textContent = problem.told;
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

// Taking, taking over, and closing what was taken.
export function takeAndClose(id, item, page, name) {
  const mine = item.state === "taken" && item.taken_by === session.name;
  const taken = item.state === "taken";
  return [mine ? null : button(taken ? "Take it over" : "I take this", () => act(page, `/alerts/${id}/take`, {}, `${name}: taken by you.`), taken ? {} : { class: "main" }),
    taken ? closing(id, page, false) : null];
}

function actions(item, page) {
  if (item.why === "session") return h("a", { class: "action", href: "#/calls" }, "Ring and write down");
  return takeAndClose(item.for, item, page, item.name);
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

// A gateway that failed may work again since, with the matter still to be seen to.
function presently(item, data) {
  if (item.kind === "gateway" && data.down) return h("p", {}, "While the line is down nothing can be known of it.");
  const gateway = item.kind === "gateway" ? data.gateways?.find((g) => item.reasons.some((r) => r.value === g.name)) : null;
  return gateway ? h("p", {}, gateway.circuit === "closed" ? "Now it works again." : "It still fails.") : null;
}

// Whoever missed the digest reads it here.
function instead(item) {
  const digest = item.kind === "undeliverable" && item.reasons.some((r) => r.words === "digest");
  return digest ? h("p", {}, h("a", { href: "#/week" }, "Read the week here"), ", and see to the clinic's mail.") : null;
}

function clinicMatter(item, data, page) {
  return h("li", { class: `matter ${item.class}`, "data-key": item.alert },
    h("p", { class: "klass" }, CLASS_WORDS[item.class] ?? ""),
    h("div", { class: "body" }, h("h3", {}, firstUp(kindWords(item.kind, item.reasons))),
      h("ul", { class: "reasons" }, item.reasons.map((r) => h("li", {}, [r.value, r.words === "digest" ? null : r.words].filter(Boolean).join(": ")))), presently(item, data), instead(item),
      h("p", { class: "quiet" }, state(item, data.now))),
    h("div", { class: "actions" },
      item.state === "taken" && item.taken_by === session.name ? closing(item.alert, page, true)
        : button("I take this", () => act(page, `/alerts/${item.alert}/take`, {}, "Taken by you."), { class: "main" })));
}

// Replies that have waited are one piece of work, however many alerts tell of them.
function waited(list, page) {
  const close = async () => {
    for (const item of list) await post(`/alerts/${item.alert}/close`, { outcome: "resume", note: "the replies were gone through" }).catch(() => {});
    say("Closed.");
    await page.refresh();
  };
  return h("li", { class: "matter today", "data-key": "waited" }, h("p", { class: "klass" }, "Today"),
    h("div", { class: "body" }, h("h3", {}, list.length === 1 ? "A reply has waited for a day" : `${list.length} replies have waited for a day`),
      h("ul", { class: "reasons" }, [...new Set(list.flatMap((a) => a.reasons.map((r) => String(r.value))))].map((why) => h("li", {}, why)))),
    h("div", { class: "actions" }, h("a", { class: "action", href: "#/replies" }, "See the replies"), button("All gone through", close)));
}

export function clinicMatters(data, page) {
  const old = data.clinic.filter((a) => a.kind === "unread");
  const rest = data.clinic.filter((a) => a.kind !== "unread");
  if (data.clinic.length === 0) return null;
  return h("section", { "aria-labelledby": "house" }, h("h2", { id: "house" }, "For the clinic itself"),
    h("ul", { class: "matters" }, rest.map((item) => clinicMatter(item, data, page)), old.length > 0 ? waited(old, page) : null));
}
