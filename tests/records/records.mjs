// SPDX-License-Identifier: Apache-2.0
// What leaves osier, read by others' programs: every FHIR resource by the R4 validator of the npm package fhir, CSV by
// csv-parse, calendars by ical.js. Usage: node records.mjs PROGRAMS TOOLS

import assert from "node:assert/strict";
import { createHash } from "node:crypto";
import { mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { openClinic, rehearse } from "./clinic.mjs";

const [programs, tools] = process.argv.slice(2).map((path) => resolve(path));
const require = createRequire(join(tools, "package.json"));
const { Fhir } = require("fhir");
const { parse } = require("csv-parse/sync");
const ICAL = (await import(require.resolve("ical.js"))).default;

const scratch = mkdtempSync(join(tmpdir(), "osier-out-"));
const store = rehearse(programs, join(scratch, "r"));
const validator = new Fhir();
let passed = 0;

async function check(name, work) {
  try {
    await work();
    passed += 1;
  } catch (error) {
    console.error(`FAILED ${name}`);
    throw error;
  }
}

// --- FHIR ---------------------------------------------------------------------------------------

// Only errors count: the package carries neither LOINC nor SNOMED CT, and our own codes are in no list.
function faults(resource) {
  const told = validator.validate(resource, { errorOnUnexpected: true });
  return (told.messages ?? []).filter((m) => m.severity === "error" || m.severity === "fatal").map((m) => `${m.location}: ${m.message}`);
}

const readLines = (file) => readFileSync(file, "utf8").trimEnd().split("\n").map((line) => JSON.parse(line));

function readFolder(folder) {
  return readdirSync(folder).sort().flatMap((file) => {
    const resources = readLines(join(folder, file));
    for (const resource of resources) assert.equal(`${resource.resourceType}.ndjson`, file);
    return resources;
  });
}

function referencesIn(value, found = []) {
  if (Array.isArray(value)) value.forEach((item) => referencesIn(item, found));
  else if (value !== null && typeof value === "object") {
    if (typeof value.reference === "string") found.push(value.reference);
    Object.values(value).forEach((item) => referencesIn(item, found));
  }
  return found;
}

function areWhole(resources) {
  const ids = new Set(resources.map((r) => `${r.resourceType}/${r.id}`));
  assert.equal(ids.size, resources.length, "an id stands twice");
  for (const resource of resources) {
    assert.deepEqual(faults(resource), [], `${resource.resourceType}/${resource.id}`);
    assert.match(resource.id, /^[A-Za-z0-9.-]{1,64}$/);
    assert.match(resource.meta.source, /^https:\/\/osier\.example\/ledger\/[0-9a-f]{16}$/);
    for (const reference of referencesIn(resource)) assert.ok(ids.has(reference), `${resource.id}: ${reference} leads nowhere`);
  }
}

const tally = (list, key) => list.reduce((counts, item) => ({ ...counts, [key(item)]: (counts[key(item)] ?? 0) + 1 }), {});

const clinic = await openClinic(programs, "2026-03-16T09:00:00Z", store);
const clients = await clinic.osier("client", "list");

// The validator is on: what it is known to refuse, it refuses.
await check("the validator refuses what R4 refuses", () => {
  assert.notDeepEqual(faults({ resourceType: "CarePlan", intent: "plan", subject: { reference: "Patient/A" } }), []);
  assert.notDeepEqual(faults({ resourceType: "CarePlan", status: "running", intent: "plan", subject: { reference: "Patient/A" } }), []);
  assert.notDeepEqual(faults({ resourceType: "Observation", status: "final" }), []);
  assert.notDeepEqual(faults({ resourceType: "Flag", status: "active", code: { text: "x" }, subject: { reference: "Patient/A" }, colour: "red" }), []);
});

await check("the whole clinic as FHIR R4", async () => {
  const told = await clinic.osier("records", "export", "--fhir", "--out", join(scratch, "all"));
  const resources = readFolder(join(scratch, "all"));
  assert.equal(resources.length, told.resources);
  areWhole(resources);
  const of = (type) => resources.filter((r) => r.resourceType === type);
  assert.deepEqual(of("Patient").map((p) => p.id), clients.map((c) => c.client));
  for (const type of ["CarePlan", "ServiceRequest", "CommunicationRequest", "Communication", "Observation", "DetectedIssue", "Consent", "Provenance", "Practitioner"])
    assert.ok(of(type).length > 0, type);
  assert.equal(of("DetectedIssue").length, (await clinic.osier("alerts", "--all")).length);
  const sent = (await clinic.osier("messages")).filter((m) => !["waiting", "writing"].includes(m.fate));
  const out = of("Communication").filter((c) => c.id.startsWith("m-"));
  assert.equal(out.length, sent.length);
  assert.deepEqual(tally(out, (c) => c.status), tally(sent, (m) => ({ accepted: "completed", delivered: "completed", unsure: "unknown" })[m.fate] ?? "not-done"));
  assert.ok(out.filter((c) => c.status === "not-done").every((c) => c.statusReason.text.length > 0));
  assert.equal(of("Communication").length - out.length, (await clinic.osier("replies")).length);
  const pains = of("Observation").filter((o) => o.code.coding[0].code === "72514-3");
  assert.ok(pains.length > 50 && pains.every((o) => o.valueQuantity.value >= 0 && o.valueQuantity.value <= 10));
});

await check("adherence says what the command says", async () => {
  for (const seen of readLines(join(scratch, "all", "Observation.ndjson")).filter((o) => o.code.coding[0].code === "adherence")) {
    const client = seen.subject.reference.slice("Patient/".length);
    const told = await clinic.osier("adherence", client, "--from", seen.effectivePeriod.start, "--to", "2026-03-15");
    const counts = Object.fromEntries(seen.component.map((c) => [c.code.coding[0].code, c.valueQuantity.value]));
    for (const kind of ["done", "partly", "not", "silent"]) assert.equal(counts[kind], told[kind], `${client}: ${kind}`);
    if (told.rate !== null) assert.ok(Math.abs(seen.valueQuantity.value - told.rate) < 0.001);
  }
});

await check("the same ledger gives the same bytes", async () => {
  await clinic.osier("records", "export", "--fhir", "--out", join(scratch, "again"));
  for (const file of readdirSync(join(scratch, "all")))
    assert.ok(readFileSync(join(scratch, "all", file)).equals(readFileSync(join(scratch, "again", file))), file);
});

await check("one client as a Bundle", async () => {
  for (const { client } of clients) {
    const file = join(scratch, `${client}.json`);
    await clinic.osier("records", "export", "--fhir", client.slice(0, 6), "--out", file);
    const bundle = JSON.parse(readFileSync(file, "utf8"));
    assert.deepEqual(faults(bundle), []);
    areWhole(bundle.entry.map((e) => e.resource));
    assert.ok(bundle.entry.every((e) => e.fullUrl === `https://osier.example/fhir/${e.resource.resourceType}/${e.resource.id}`));
    assert.deepEqual(bundle.entry.filter((e) => e.resource.resourceType === "Patient").map((e) => e.resource.id), [client]);
  }
});

// --- CSV ----------------------------------------------------------------------------------------

await check("every table as CSV", async () => {
  const told = await clinic.osier("records", "export", "--csv", "--out", join(scratch, "csv"));
  let rows = 0;
  for (const file of readdirSync(join(scratch, "csv"))) {
    const text = readFileSync(join(scratch, "csv", file), "utf8");
    const records = parse(text, { columns: true, relax_column_count: false, record_delimiter: "\r\n" });
    rows += records.length;
    for (const record of records)
      for (const [column, cell] of Object.entries(record))
        assert.ok(!/^[=+\-@\t\r]/.test(cell) || /^-?[0-9.e+-]+$/.test(cell), `${file}: ${column}: ${cell}`);
  }
  assert.equal(rows, told.rows);
  const people = parse(readFileSync(join(scratch, "csv", "clients.csv"), "utf8"), { columns: true });
  assert.deepEqual(people.map((p) => [p.client_id, p.name, p.phone.replace(/^'/, "")]), clients.map((c) => [c.client, c.name, c.phone ?? ""]));
});

await check("the clinic comes into an empty one unchanged", async () => {
  const other = await openClinic(programs, "2026-03-16T09:00:00Z");
  await other.osier("records", "import", "--csv", join(scratch, "csv", "clients.csv"), "--keep-alike", "--save");
  await other.osier("records", "export", "--csv", "--out", join(scratch, "csv2"));
  await other.close();
  const carried = (folder) => parse(readFileSync(join(scratch, folder, "clients.csv"), "utf8"), { columns: true })
    .map(({ client_id, ...rest }) => JSON.stringify(rest)).sort();
  assert.deepEqual(carried("csv2"), carried("csv"));
});
await check("the clinic goes through FHIR into an empty one: what carries over is the same", async () => {
  const all = join(scratch, "all.ndjson");
  writeFileSync(all, readdirSync(join(scratch, "all")).map((file) => readFileSync(join(scratch, "all", file), "utf8")).join(""));
  const other = await openClinic(programs, "2026-03-16T09:00:00Z");
  const shown = await other.osier("records", "import", "--fhir", all, "--keep-alike");
  assert.deepEqual([shown.saved, shown.clients, shown.plans, shown.faults], [false, clients.length, clients.length, []]);
  assert.ok(shown.not_taken.Observation > 400 && shown.not_taken.Communication > 400);
  assert.equal((await other.osier("client", "list")).length, 0);
  await other.osier("records", "import", "--fhir", all, "--keep-alike", "--save");
  const drafts = await other.osier("records", "drafts");
  assert.equal(drafts.length, clients.length);
  for (const { client } of drafts) {
    await assert.rejects(other.osier("records", "confirm", client, "--by", "R. Okafor"), /no screen yet/);
    await other.osier("screen", client, "--by", "R. Okafor", "--floor", "yes", "--clear");
  }
  const confirmed = new Set();
  for (const { client, plan } of drafts) {
    // a stage that the screen of the demo clinic let through and a client without consent stay drafts
    const person = (await other.osier("client", "list")).find((c) => c.client === client);
    if (person.channel !== "phone" && !person.consent.includes(person.channel)) continue;
    const set = await other.osier("records", "confirm", client, "--by", "R. Okafor");
    assert.deepEqual([set.programme, set.stage, set.at.join(","), set.start, set.review, set.side, set.clinician],
      [plan.programme, plan.stage, plan.at, plan.start, plan.review, plan.side, plan.clinician]);
    confirmed.add(client);
  }
  assert.ok(confirmed.size >= clients.length - 2, `${confirmed.size} plans confirmed`);
  assert.equal((await other.osier("records", "drafts")).length, drafts.length - confirmed.size);
  await other.osier("records", "export", "--fhir", "--out", join(scratch, "back"));
  await other.close();
  // The digest of what carries over: who, consent, goals and plan, of those whose plan was confirmed; without ids, the source, and what
  // only the first clinic lived through, such as a hold.
  const keys = (folder) => new Map(readLines(join(scratch, folder, "Patient.ndjson")).map((p) => [p.id, JSON.stringify([p.name, p.telecom])]));
  const confirmedKeys = new Set([...keys("back")].filter(([id]) => confirmed.has(id)).map(([, key]) => key));
  const ofWhom = (r) => (r.resourceType === "Patient" ? r.id : (r.subject ?? r.patient).reference.slice("Patient/".length));
  const digest = (folder, type) => {
    const people = keys(folder);
    return createHash("sha256").update(readLines(join(scratch, folder, `${type}.ndjson`))
      .filter((r) => confirmedKeys.has(people.get(ofWhom(r))) && (type !== "Consent" || r.status === "active"))
      .map((r) => JSON.stringify(r).replace(/"id":"[^"]*"|"source":"[^"]*"|"value":"[0-9A-Z]{8}"|"reference":"[^"]*"|"dateTime":"[^"]*"|"active":(true|false)|"status":"[^"]*"/g, "")).sort().join("\n")).digest("hex");
  };
  for (const type of ["Patient", "Consent", "Goal", "CarePlan", "ServiceRequest", "CommunicationRequest"]) {
    assert.equal(digest("back", type), digest("all", type), type);
    console.log(`round trip of ${confirmedKeys.size} clients, ${type}: ${digest("all", type)} both ways`);
  }
});

await check("FHIR that cannot be taken is refused with its place, and nothing is half done", async () => {
  const other = await openClinic(programs, "2026-03-16T09:00:00Z");
  const ada = { resourceType: "Patient", id: "a", name: [{ given: ["Ada"], family: "N." }], gender: "female", birthDate: "1950-04-03",
    telecom: [{ system: "phone", use: "mobile", value: "020 7946 0001" }], identifier: [{ system: "urn:x", value: "77" }] };
  const request = { resourceType: "ServiceRequest", status: "active", intent: "order", subject: { reference: "Patient/a" },
    occurrenceTiming: { repeat: { timeOfDay: ["08:30:00"], period: 2, periodUnit: "d" } }, note: [{ text: "slowly" }] };
  const bundle = (...resources) => ({ resourceType: "Bundle", type: "collection", entry: resources.map((resource) => ({ resource })) });
  const told = async (value, ...more) => {
    const file = join(scratch, "in.json");
    writeFileSync(file, typeof value === "string" ? value : JSON.stringify(value));
    return other.osier("records", "import", "--fhir", file, "--save", ...more).catch((error) => JSON.parse(error.stdout));
  };
  const why = async (value) => (await told(value)).faults.map((f) => `${f.row}: ${f.why}`).join("; ");
  assert.match(await why(bundle(ada, { ...request, subject: { reference: "Patient/b" } })), /^2: leads nowhere/);
  assert.match(await why(bundle(ada, { resourceType: "ProcedureRequest", subject: { reference: "Patient/a" } })), /^2: is of FHIR STU3/);
  assert.match(await why(bundle(ada, { ...request, code: { concept: { text: "x" } } })), /^2: is of FHIR R5/);
  assert.match(await why(bundle(ada, request, request)), /^3: is a second one/);
  assert.match(await why(bundle({ ...ada, deceasedBoolean: true })), /^1: has died/);
  assert.match(await why(bundle({ ...ada, telecom: [{ system: "sms", value: "12" }] })), /^1: is too short/);
  assert.match(await why(bundle()), /holds no resources/);
  assert.match(await why("no JSON at all"), /^1: is no JSON/);
  assert.match(await why(`{"resourceType":"Patient","id":"a","id":"b"}`), /is no JSON/);
  assert.equal((await other.osier("client", "list")).length, 0);
  const kept = await told(bundle(ada, request));
  assert.equal(kept.saved, true);
  const [draft] = await other.osier("records", "drafts");
  assert.deepEqual(draft.left, { Patient: { gender: "female", identifier: [{ system: "urn:x", value: "77" }] }, ServiceRequest: { note: [{ text: "slowly" }] } });
  assert.deepEqual([draft.plan.at, draft.plan.rule], ["08:30", "FREQ=DAILY;INTERVAL=2"]);
  await assert.rejects(other.osier("records", "drop", draft.client), /by/);
  await other.osier("records", "drop", draft.client, "--by", "R. Okafor");
  assert.equal((await other.osier("records", "drafts")).length, 0);
  await other.osier("records", "undo", kept.import);
  assert.equal((await other.osier("client", "list")).length, 1, "a draft was dropped since");
  await other.close();
});
await clinic.close();

// --- calendars ----------------------------------------------------------------------------------

// Local times that the clocks skip, show twice or lack, with the instant by RFC 5545 3.3.5; read with zdump from tz database
// 2026f.
const ODD = [
  ["America/New_York", "2026-03-08T02:30", "2026-03-08T07:30:00Z"],
  ["America/New_York", "2026-11-01T01:30", "2026-11-01T05:30:00Z"],
  ["Europe/London", "2026-03-29T01:30", "2026-03-29T01:30:00Z"],
  ["Europe/London", "2026-10-25T01:30", "2026-10-25T00:30:00Z"],
  ["Europe/Dublin", "2026-03-29T01:30", "2026-03-29T01:30:00Z"],
  ["Europe/Dublin", "2026-10-25T01:30", "2026-10-25T00:30:00Z"],
  ["Australia/Lord_Howe", "2025-10-05T02:15", "2025-10-04T15:45:00Z"],
  ["Australia/Lord_Howe", "2025-04-06T01:45", "2025-04-05T14:45:00Z"],
  ["Pacific/Apia", "2011-12-30T09:00", null],
  ["America/Sao_Paulo", "2018-11-04T00:30", "2018-11-04T03:30:00Z"],
  ["America/Sao_Paulo", "2018-02-17T23:30", "2018-02-18T01:30:00Z"],
  ["Antarctica/Troll", "2025-03-30T02:30", "2025-03-30T02:30:00Z"],
  ["Antarctica/Troll", "2025-10-26T01:30", "2025-10-25T23:30:00Z"],
  ["America/Havana", "2025-11-02T00:30", "2025-11-02T04:30:00Z"],
  ["Pacific/Chatham", "2026-09-27T03:00", "2026-09-26T14:15:00Z"],
  ["Pacific/Kiritimati", "1994-12-31T09:00", null],
  ["Asia/Pyongyang", "2018-05-04T23:45", "2018-05-04T15:15:00Z"],
  ["Asia/Kathmandu", "2026-01-01T09:00", "2026-01-01T03:15:00Z"],
];
// These follow a government's word each year, so another release of the database moves them: the two readers are held to each other
// in any case, and to the instant where the database here is that of 2026c or later.
const BY_DECREE = [
  ["Africa/Casablanca", "2026-02-15T02:30", "2026-02-15T01:30:00Z"],
  ["Africa/Casablanca", "2026-03-22T02:30", "2026-03-22T02:30:00Z"],
  ["Africa/Casablanca", "2026-09-20T01:30", "2026-09-20T00:30:00Z"],
  ["Asia/Gaza", "2026-03-28T02:30", "2026-03-28T00:30:00Z"],
  ["Asia/Gaza", "2026-10-24T01:30", "2026-10-23T22:30:00Z"],
  ["Africa/Cairo", "2026-04-24T00:30", "2026-04-23T22:30:00Z"],
  ["America/Santiago", "2026-09-06T00:30", "2026-09-06T04:30:00Z"],
  ["America/Nuuk", "2026-03-28T23:30", "2026-03-29T01:30:00Z"],
  ["America/Edmonton", "2026-11-01T01:30", "2026-11-01T07:30:00Z"],
  ["America/Vancouver", "2026-11-01T01:30", "2026-11-01T08:30:00Z"],
];
const zones = /^# version (\S+)/.exec(readFileSync("/usr/share/zoneinfo/tzdata.zi", "utf8"))?.[1] ?? "";
const DAY = 86400000;
const dayOf = (ms) => new Date(ms).toISOString().slice(0, 10);

// Every instant of a calendar file's events in a span, as ical.js reads them.
function instants(text, from, to) {
  const calendar = new ICAL.Component(ICAL.parse(text));
  const found = [];
  ICAL.TimezoneService.reset();
  for (const zone of calendar.getAllSubcomponents("vtimezone"))
    ICAL.TimezoneService.register(new ICAL.Timezone(zone));
  for (const component of calendar.getAllSubcomponents("vevent")) {
    const event = new ICAL.Event(component);
    assert.equal(component.getAllSubcomponents("valarm").length, 1);
    const walk = event.iterator();
    for (let next = walk.next(), n = 0; next && n < 4000; next = walk.next(), n += 1) {
      const ms = next.toUnixTime() * 1000;
      if (ms >= to) break;
      if (ms >= from) found.push(new Date(ms).toISOString().replace(".000Z", "Z"));
    }
  }
  return [...new Set(found)].sort(); // a date that does not exist falls on its neighbour's instant
}

let sender = null;

async function planned(zone, at, start, ...more) {
  const { client } = await sender.osier("client", "add", "--name", "Ada N.", "--zone", zone, "--channel", "sms", "--phone", "+442079460001",
    "--consent", "sms: signed form, R. Okafor, 2026-03-01");
  await sender.osier("screen", client, "--by", "R. Okafor", "--floor", "yes", "--clear");
  await sender.osier("plan", "set", client, "--programme", "calf-and-hamstring", "--felt", "calf", "--at", at, "--start", start, ...more);
  return client;
}

let files = 0;

async function readsTheSame(client, start, days) {
  files += 1;
  const file = join(scratch, `${files}.ics`);
  await sender.osier("records", "calendar", client, "--out", file);
  const text = readFileSync(file, "utf8");
  const wanted = (await sender.osier("sessions", client, "--from", dayOf(start), "--days", String(days))).map((s) => s.utc).sort();
  const last = start + (days + 2) * DAY;
  assert.deepEqual(instants(text, start - 2 * DAY, last).filter((t) => wanted.length === 0 || t <= wanted.at(-1)), wanted);
  assert.ok(text.split("\r\n").every((line) => Buffer.byteLength(line) <= 75), "a line is longer than 75 bytes");
  return wanted;
}

await check("calendars give the same instants in odd zones", async () => {
  for (const [zone, local, instant] of [...ODD, ...BY_DECREE]) {
    const known = ODD.some((odd) => odd[0] === zone) || zones >= "2026c";
    const utc = known ? instant : undefined;
    const start = Date.parse(`${local.slice(0, 10)}T00:00:00Z`) - 3 * DAY;
    sender = await openClinic(programs, new Date(start - 3 * DAY).toISOString());
    const client = await planned(zone, local.slice(11), dayOf(start));
    const wanted = await readsTheSame(client, start, 8);
    await sender.close();
    if (utc === undefined) continue;
    if (utc !== null) assert.ok(wanted.includes(utc), `${zone} ${local}: ${wanted}`);
    else assert.equal(wanted.length, 7, `${zone} ${local}: ${wanted}`);
  }
});

sender = await openClinic(programs, "2026-03-02T09:00:00Z");
await check("calendars give the same instants by any rule", async () => {
  const rules = ["FREQ=DAILY;INTERVAL=3", "FREQ=WEEKLY;BYDAY=TU,TH", "FREQ=WEEKLY;INTERVAL=2;BYDAY=TU,SU", "FREQ=DAILY;COUNT=9",
    "FREQ=WEEKLY;BYDAY=MO,WE,FR;UNTIL=20260410", "FREQ=MONTHLY;BYMONTHDAY=2,15,-1", "FREQ=DAILY;UNTIL=20260405T060000Z"];
  for (const rule of rules)
    await readsTheSame(await planned("Europe/London", "08:30,18:30", "2026-03-06", "--rule", rule), Date.parse("2026-03-06T00:00:00Z"), 120);
});

await check("the clinic's review dates", async () => {
  const file = join(scratch, "reviews.ics");
  const told = await sender.osier("records", "calendar", "--reviews", "--out", file);
  const text = readFileSync(file, "utf8");
  const events = new ICAL.Component(ICAL.parse(text)).getAllSubcomponents("vevent").map((e) => new ICAL.Event(e));
  assert.equal(events.length, told.reviews);
  assert.ok(events.length === 7 && events.every((e) => e.startDate.isDate && /^Review: A\.N\. \([0-9A-Z]{8}\)$/.test(e.summary)));
  assert.ok(!text.includes("Ada"));
});
await sender.close();

rmSync(scratch, { recursive: true, force: true });
console.log(`${passed} checks of records passed`);
