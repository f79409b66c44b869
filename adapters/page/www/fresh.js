// SPDX-License-Identifier: Apache-2.0
// A new client and plan in one form. What would happen is worked out by osier itself and shown before it is kept.

import { get, post, session } from "./api.js";
import { h, button, choice, field, oneOf, say } from "./dom.js";
import { CHANNELS, date, firstUp, reasonWords, STANDINGS } from "./words.js";

const FELT = [["", "not asked"], ["calf", "in the calf"], ["knee", "behind the knee"], ["thigh", "in the thigh"], ["sit-bone", "at the sit bone"],
  ["electric", "electric, burning or tingling"]];
const DAYS = [["", "every day"], ["FREQ=WEEKLY;BYDAY=MO,TU,WE,TH,FR", "Monday to Friday"], ["FREQ=WEEKLY;BYDAY=MO,WE,FR", "Monday, Wednesday, Friday"],
  ["FREQ=DAILY;INTERVAL=2", "every other day"]];
const LANGUAGES = { en: "English", es: "Spanish", fr: "French" };

const zones = (own) => {
  const known = typeof Intl.supportedValuesOf === "function" ? Intl.supportedValuesOf("timeZone") : [];
  return known.includes(own) ? known : [own, ...known];
};

const value = (form, name) => form.elements[name]?.value.trim() ?? "";
const chosen = (form, name) => form.querySelector(`input[name="${name}"]:checked`)?.value ?? "";
const given = (object) => Object.fromEntries(Object.entries(object).filter(([, v]) => v !== "" && v !== undefined));

function consent(form) {
  const channel = chosen(form, "channel");
  return channel === "phone" ? "" : `${channel}: ${value(form, "how")}, ${session.name}, ${value(form, "on")}`;
}

function wish(form, findings, id) {
  const texts = findings.filter((f) => form.elements[`finding-${f.key}`]?.checked).map((f) => f.text);
  if (value(form, "other")) texts.push(value(form, "other"));
  const screened = !id || chosen(form, "floor") !== "";
  return {
    client: id ? { id } : given({ name: value(form, "name"), channel: chosen(form, "channel"), phone: value(form, "phone"), email: value(form, "email"),
      zone: value(form, "zone"), language: value(form, "language"), needs: value(form, "needs"), born: value(form, "born"),
      leg_cm: value(form, "leg"), usual_pain: value(form, "usual"), consent: consent(form) }),
    ...(screened ? { screen: { floor: chosen(form, "floor"), ...(texts.length > 0 ? { findings: texts } : { clear: form.elements.clear.checked }) } } : {}),
    plan: given({ programme: value(form, "programme"), at: [value(form, "first"), value(form, "second")].filter(Boolean).sort().join(","),
      rule: value(form, "rule"), angle_deg: value(form, "angle"), felt: value(form, "felt"), side: value(form, "side"),
      stage: value(form, "stage"), clinician: value(form, "clinician"), start: value(form, "start") }),
  };
}

function text(name, props) {
  return h("input", { name, autocomplete: "off", ...props });
}

function who(choices) {
  return h("fieldset", {}, h("legend", {}, "1. Who"),
    h("div", { class: "row" }, field("Name", text("name", { required: true, maxlength: 80 })), field("Year of birth", text("born", { type: "number", min: 1900, max: 2100 })),
      field("Leg, hip joint to heel, cm", text("leg", { type: "number", min: 40, max: 130, step: "0.5" }), "From it osier works out how far from the frame to lie.")),
    oneOf("How osier reaches the client", "channel", Object.entries(CHANNELS), "sms"),
    h("div", { class: "row" }, field("Telephone", text("phone", { type: "tel", maxlength: 30 })), field("E-mail", text("email", { type: "email", maxlength: 200 })),
      field("How consent was given", text("how", { value: "signed form", maxlength: 120 })), field("Consent given on", text("on", { type: "date", value: choices.today }))),
    h("div", { class: "row" },
      field("Language of the texts", choice("language", choices.languages.map((l) => [l, LANGUAGES[l] ?? l]), choices.language)),
      field("Time zone", choice("zone", zones(choices.zone).map((z) => [z, z.replace(/_/g, " ")]), choices.zone)),
      field("Usual pain, 0 to 10", text("usual", { type: "number", min: 0, max: 10 })),
      field("Needs, for whoever rings", text("needs", { maxlength: 400 }), "Hearing, sight, who picks up")));
}

function screen(findings, id) {
  return h("fieldset", {}, h("legend", {}, id ? "The screen" : "2. The screen"),
    id ? h("p", { class: "hint" }, "Leave it empty where the last screen still holds.") : null,
    oneOf("Down to the floor and up again, alone?", "floor", [["yes", "yes"], ["no", "no"]], ""),
    h("div", { class: "checks" }, findings.map((f) => h("label", {}, h("input", { type: "checkbox", name: `finding-${f.key}` }), h("span", {}, f.ask)))),
    field("Anything else found", text("other", { maxlength: 400 })),
    h("label", { class: "single" }, h("input", { type: "checkbox", name: "clear" }), h("span", {}, "I asked all of this, and nothing was found")));
}

function plan(choices, programme, id) {
  return h("fieldset", {}, h("legend", {}, id ? "The plan" : "3. The plan"),
    h("div", { class: "row" },
      field("Programme", choice("programme", choices.programmes.map((p) => [p.key, p.title]), programme.key)),
      field("Treating clinician", choice("clinician", choices.clinicians.map((c) => [c, c]), choices.clinicians.includes(session.name) ? session.name : choices.clinicians[0]))),
    h("div", { class: "row" },
      field("Leg raise, degrees", text("angle", { type: "number", min: 0, max: 180 }), "The tighter side, knee straight."),
      field("Where it pulls", choice("felt", FELT, "")),
      field("Side", choice("side", [["both", "both"], ["left", "left"], ["right", "right"]], "both"))),
    h("div", { class: "row" },
      field("Time of the session", text("first", { type: "time", required: true, value: "08:30" })), field("Second time of the day", text("second", { type: "time" }), "If there is one"),
      field("Days", choice("rule", DAYS, "")), field("First day", text("start", { type: "date", value: choices.today }))),
    field("Stage", choice("stage", [["", "let osier work it out"], ...programme.stages.map((s) => [s.key, s.title])], ""), "Choose one only to overrule."));
}

function preview(answer, known, save) {
  const reasons = answer.plan.start_reasons?.reasons ?? [];
  const week = answer.first_week;
  const texts = new Set(week.map((s) => s.text));
  return h("section", { class: "preview", "aria-labelledby": "then" }, h("h2", { id: "then", tabindex: "-1" }, "This is what will happen"),
    h("p", {}, "Begins with ", h("strong", {}, answer.plan.title), reasons.length > 0 ? `, because: ${reasons.map(reasonWords).join("; ")}.` : ", as you chose."),
    h("ul", { class: "plainlist" }, answer.plan.movements.map((m) => h("li", {}, h("strong", {}, m.title), ` — ${m.dose}`))),
    answer.warnings?.length > 0 ? h("ul", { class: "notice" }, answer.warnings.map((w) => h("li", {}, firstUp(w)))) : null,
    known && !["active", "no plan"].includes(known.standing)
      ? h("p", { class: "notice" }, `${firstUp(STANDINGS[known.standing] ?? known.standing)}: no reminder goes out until that is lifted.`) : null,
    known?.plan ? null : answer.welcome ? [h("h3", {}, "At once, but not at night"), h("blockquote", {}, answer.welcome)] : h("p", {}, "No message goes out: this client is on the list of people to ring at these times."),
    h("h3", {}, "The first week"),
    h("ol", { class: "lines" }, week.map((s) => h("li", {}, h("span", { class: "time" }, s.local.slice(11, 16)), h("span", {}, date(s.date)),
      texts.size > 1 && s.text ? h("span", { class: "quiet" }, s.text) : null))),
    texts.size === 1 && week[0]?.text ? [h("p", {}, "Each time this text:"), h("blockquote", {}, week[0].text)] : null,
    week.length === 0 ? h("p", { class: "notice" }, "No session falls into the first seven days.") : h("p", { class: "quiet" }, `The client's own clock, ${week[0].zone.replace(/_/g, " ")}.`),
    h("p", { class: "actions" }, button("Save", save, { class: "main" })));
}

export async function fresh([id]) {
  const [choices, known] = await Promise.all([get("/programmes"), id ? get(`/clients/${encodeURIComponent(id)}`) : null]);
  const programme = choices.programmes.find((p) => p.key === known?.programme) ?? choices.programmes[0];
  const fault = h("p", { class: "fault", role: "alert" });
  const shown = h("div", {});
  const form = h("form", { "data-open": "1", class: "wide", onsubmit: show, oninput: () => shown.replaceChildren() },
    known ? null : who(choices), screen(programme.findings, id), plan(choices, programme, id), fault,
    h("p", { class: "actions" }, h("button", { class: "main" }, "Show what will happen")));
  let findings = programme.findings;

  form.elements.programme.addEventListener("change", () => {
    const next = choices.programmes.find((p) => p.key === form.elements.programme.value);
    findings = next.findings;
    const places = [...form.children].filter((c) => c.tagName === "FIELDSET");
    places[places.length - 2].replaceWith(screen(findings, id));
    form.elements.stage.replaceChildren(...choice("stage", [["", "let osier work it out"], ...next.stages.map((s) => [s.key, s.title])], "").children);
  });

  async function send(save) {
    fault.textContent = "";
    try {
      return await post("/enrolments", { ...wish(form, findings, known?.client), save });
    } catch (problem) {
      const part = { client: "Who: ", screen: "The screen: ", plan: "The plan: " }[problem.part] ?? "";
      fault.textContent = `${part}${problem.message}`;
      shown.replaceChildren();
      fault.scrollIntoView({ block: "center" });
      return null;
    }
  }

  async function show(event) {
    event.preventDefault();
    const answer = await send(false);
    if (!answer) return;
    shown.replaceChildren(preview(answer, known, async () => {
      const kept = await send(true);
      if (!kept) return;
      form.removeAttribute("data-open");
      say("Saved.");
      location.hash = `#/client/${kept.client}`;
    }));
    const heading = shown.querySelector("h2");
    heading.focus();
    heading.scrollIntoView({ block: "start" });
  }

  return h("article", {}, h("h1", {}, known ? `Plan for ${known.name}` : "New client"), form, shown);
}

