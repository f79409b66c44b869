// SPDX-License-Identifier: Apache-2.0
// How states, matters and times are said to people.

export const STATES = {
  done: "done", partly: "in part", not: "not done", silent: "no answer", unasked: "not asked", excused: "excused",
  asked: "waiting for an answer", planned: "to come",
};

const KINDS = {
  crisis: "crisis, wish to die", heart: "heart or breathing sign", stroke: "stroke sign", cauda: "bladder or saddle sign",
  clot: "clot sign", fracture: "fracture sign", nerve: "nerve sign", fall: "fall", pain: "pain", "pain-some": "pain, no number given",
  "strong-stretch": "strong stretch", "missed-run": "missed days", stopped: "has ended the texts",
  undeliverable: "cannot be reached", unread: "a reply has waited for a day", suspended: "texts stopped, please look",
  review: "the review is due", away: "a long break, please ask", consent: "consent to be asked for anew", screen: "a fresh screen changed what suits, please decide",
  "height-loss": "loss of height", gateway: "a gateway fails", session: "today's session by telephone",
};

export const STANDINGS = {
  active: "practising", "no plan": "no plan yet", paused: "paused", held: "on hold", suspended: "texts stopped, please look",
  stopped: "wants no messages", ended: "ended",
};

export const CHANNELS = { sms: "text messages", email: "e-mail", phone: "telephone" };

export function firstUp(text) {
  return text.charAt(0).toUpperCase() + text.slice(1);
}

// A number alone, of which nobody knows yet whether it was the stretch: every reason says so.
function bare(reasons) {
  const pains = reasons.filter((r) => String(r.rule ?? "").startsWith("pain_"));
  return pains.length > 0 && pains.every((r) => r.rule.includes("(a bare number"));
}

export function kindWords(kind, reasons) {
  const value = (reasons ?? []).map((r) => r.value).find((v) => typeof v === "number");
  if (kind === "pain-unsaid") return `${value} of 10, stretch or pain`;
  if (kind === "digest-lost") return "the weekly digest did not arrive";
  if (kind === "pain" && value !== undefined) return bare(reasons) ? `${value} of 10, stretch or pain` : `pain ${value} of 10`;
  if (kind === "undeliverable" && (reasons ?? []).some((r) => r.words === "digest")) return "the weekly digest did not arrive";
  if (kind === "missed-run" && value !== undefined) return `${value} missed days in a row`;
  if (kind === "strong-stretch" && value !== undefined) return `strong stretch, ${value} of 10`;
  if (kind === "height-loss" && value !== undefined) return `loss of height, ${value} cm`;
  return KINDS[kind] ?? kind;
}

// The most that was told; no pain is said only where nothing is open.
export function painWords(most, bare, some, said = most) {
  return [most > 0 ? `pain up to ${said}` : most === 0 && !bare && !some ? "no pain" : null, bare ? `${bare} of 10, stretch or pain` : null,
    some ? "pain, no number given" : null].filter(Boolean).join("; ");
}

const RULES = { pain_now: "pain", pain_today: "pain", missed_run: "days missed", intensity_high: "stretch felt" };

// One reason in words: what was seen, and the limit it was held against.
export function reasonWords(reason) {
  const rule = String(reason.rule ?? "");
  const stem = rule.split(" ")[0];
  const name = RULES[stem] ?? rule;
  const after = RULES[stem] ? rule.slice(stem.length).replace(/[()]/g, "").trim() : "";
  if (rule.endsWith(" below") && reason.value !== null) return `${rule.slice(0, -6)} ${reason.value}, below ${reason.limit}`;
  let text = name;
  if (reason.value !== null && reason.value !== undefined && reason.value !== "") text += `: ${reason.value}`;
  if (reason.limit !== null && reason.limit !== undefined && reason.limit !== "") text += `, limit ${reason.limit}`;
  if (after) text += ` — ${after}`;
  if (reason.words) text += ` — “${reason.words}”`;
  return text;
}

const zoned = new Map();

function format(zone, kind, options) {
  const key = `${zone} ${kind}`;
  if (!zoned.has(key)) {
    try {
      zoned.set(key, new Intl.DateTimeFormat("en-GB", { ...options, timeZone: zone ?? "UTC" }));
    } catch {
      zoned.set(key, new Intl.DateTimeFormat("en-GB", { ...options, timeZone: "UTC" }));
    }
  }
  return zoned.get(key);
}

export const clock = (instant, zone) => format(zone, "clock", { hour: "2-digit", minute: "2-digit", hourCycle: "h23" }).format(new Date(instant));

export const day = (instant, zone) => format(zone, "day", { weekday: "short", day: "numeric", month: "short" }).format(new Date(instant));

export const when = (instant, zone) => `${day(instant, zone)}, ${clock(instant, zone)}`;

// "2026-03-16" is a day wherever one stands.
export const date = (text) => day(`${text}T12:00:00Z`, "UTC");

export const longDate = (text) => format("UTC", "long", { weekday: "long", day: "numeric", month: "long" }).format(new Date(`${text}T12:00:00Z`));

const WEEKDAYS = { MO: "Mon", TU: "Tue", WE: "Wed", TH: "Thu", FR: "Fri", SA: "Sat", SU: "Sun" };

// The days of a plan that does not ask daily: "on Mon, Wed, Fri"; a rule that is more than that as it is.
export function planDays(rule) {
  const named = /^FREQ=WEEKLY;BYDAY=((?:MO|TU|WE|TH|FR|SA|SU)(?:,(?:MO|TU|WE|TH|FR|SA|SU))*)$/.exec(rule);
  return named ? `on ${named[1].split(",").map((code) => WEEKDAYS[code]).join(", ")}` : rule;
}

// How long something has lasted.
export function lasting(instant, now) {
  const minutes = Math.max(1, Math.round((Date.parse(now) - Date.parse(instant)) / 60000));
  if (minutes < 60) return count(minutes, "minute", "minutes");
  const hours = Math.round(minutes / 60);
  return hours < 36 ? count(hours, "hour", "hours") : count(Math.round(hours / 24), "day", "days");
}

export const count = (n, one, many) => `${n} ${n === 1 ? one : many}`;

const PHONES = [
  /^(\+44)(20)(\d{4})(\d{4})$/, /^(\+44)(\d{4})(\d{6})$/, /^(\+1)(\d{3})(\d{3})(\d{4})$/, /^(\+33)(\d)(\d\d)(\d\d)(\d\d)(\d\d)$/,
  /^(\+52)(33|55|56|81)(\d{4})(\d{4})$/, /^(\+52)(\d{3})(\d{3})(\d{4})$/,
];

// "+447700900118" with gaps, as people read numbers out.
export function phone(number) {
  if (!number) return "no number";
  for (const groups of PHONES) {
    const found = groups.exec(number);
    if (found) return found.slice(1).join(" ");
  }
  return number.startsWith("+") ? number.replace(/^(\+\d\d)(?=\d)/, "$1 ").replace(/(\d{3})(?=\d{2})/g, "$1 ") : number;
}

// What a report says, as far as it says it.
export function reportWords(item) {
  const parts = [];
  if (item.intensity !== null && item.intensity !== undefined) parts.push(item.bare ? `${item.intensity}, stretch or pain` : `stretch ${item.intensity}`);
  if (item.pain !== null && item.pain !== undefined) parts.push(item.pain === "some" ? "some pain" : `pain ${item.pain}`);
  return parts.join(", ");
}

// At most one decimal, half upwards: as the digest has it.
export const tenth = (number) => String(Math.round(Number(number) * 10) / 10);
