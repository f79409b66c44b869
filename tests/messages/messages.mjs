// SPDX-License-Identifier: Apache-2.0
// Second opinions on texts and numbers: segments by the npm package split-sms, numbers by libphonenumber-js. Where the two differ
// the reason stands here, and how often it came up is printed. Usage: node messages.mjs PROGRAMS TOOLS [SEED]

import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { createRequire } from "node:module";
import { join, resolve } from "node:path";

const [programs, tools] = process.argv.slice(2, 4).map((path) => resolve(path));
const seed = Number(process.argv[4] ?? 20261126);
const require = createRequire(join(tools, "package.json"));
const { split } = require("split-sms");
const phones = require("libphonenumber-js/max");
const metadata = require("libphonenumber-js/metadata.max.json");
const examples = require("libphonenumber-js/examples.mobile.json");

console.log(`seed ${seed}`);

// A generator of Weyl's kind, so that a seed gives the same texts everywhere.
let state = BigInt(seed);
function below(n) {
  state = (state * 6364136223846793005n + 1442695040888963407n) & 0xffffffffffffffffn;
  return Number((state >> 33n) % BigInt(n));
}
const pick = (list) => list[below(list.length)];

function osier(words, lines) {
  const escaped = lines.map((line) => line.replaceAll("\\", "\\\\").replaceAll("\n", "\\n"));
  const said = execFileSync(join(programs, "osier"), [...words, "--lines", "--json"], {
    input: `${escaped.join("\n")}\n`, maxBuffer: 1 << 28, encoding: "utf8",
  });
  const answers = said.trimEnd().split("\n").map((line) => JSON.parse(line));
  assert.equal(answers.length, lines.length);
  return answers;
}

// --- segments -----------------------------------------------------------------------------------

const GSM = [..."@£$¥èéùìòÇØøÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà\n"];
const EXTENSION = [..."^{}\\[~]|€"];
const OUTSIDE = [..."çáíóúêëâ…’“”–°ŁłąΑαЖж漢あ한🙂👍🏽🇬🇧\u00a0"];

// Lengths crowd around the edges of segments, alphabets mix as people's texts do.
function randomText() {
  const edges = [6, 70, 134, 160, 201, 306, 459, 612];
  const length = Math.max(0, pick(edges) + below(14) - 7);
  const extension = below(3) === 0 ? below(30) : 0;
  const outside = below(3) === 0 ? below(4) + 1 : 0;
  const letters = Array.from({ length }, () => {
    const roll = below(100);
    if (roll < outside) return pick(OUTSIDE);
    return roll < outside + extension ? pick(EXTENSION) : pick(GSM);
  });
  return letters.join("");
}

function compareSegments(count) {
  const texts = Array.from({ length: count }, randomText);
  const ours = osier(["size"], texts);
  let empty = 0, ucs2 = 0, several = 0;
  texts.forEach((text, i) => {
    const theirs = split(text, { summary: true });
    const gsm = theirs.characterSet === "GSM";
    assert.equal(ours[i].alphabet, gsm ? "gsm7" : "ucs2", JSON.stringify(text));
    assert.equal(ours[i].units, gsm ? theirs.bytes : theirs.bytes / 2, JSON.stringify(text));
    ucs2 += !gsm;
    several += ours[i].segments > 1;
    if (text === "") {
      // Nothing is sent for nothing; the package gives an empty part.
      assert.deepEqual([ours[i].segments, theirs.parts.length], [0, 1]);
      empty += 1;
    } else {
      assert.equal(ours[i].segments, theirs.parts.length, JSON.stringify(text));
    }
  });
  assert.ok(ucs2 > count / 20 && several > count / 4, "the texts are too much of one kind");
  console.log(`segments: ${count} texts alike (${ucs2} in UCS-2, ${several} of several segments); but for ${empty} empty ones`);
}

// --- numbers ------------------------------------------------------------------------------------

// Lengths of telephones and mobiles of each country code (types 0 and 1 of a country, else its general lengths).
function lengthsByCode() {
  const codes = new Map();
  for (const country of Object.values(metadata.countries)) {
    const lengths = codes.get(country[0]) ?? new Set();
    for (const type of [country[11]?.[0], country[11]?.[1]])
      for (const length of type === undefined || type === 0 ? [] : type[1] || country[3]) lengths.add(length);
    codes.set(country[0], lengths);
  }
  return codes;
}

// Each country's example mobile number, as it is written there and from abroad.
function compareForms() {
  const forms = [];
  for (const country of phones.getCountries()) {
    const example = phones.getExampleNumber(country, examples);
    if (example === undefined || example.number.length < 1 + 8) continue; // osier keeps no number of fewer than 8 digits
    const code = example.countryCallingCode;
    const national = example.formatNational();
    for (const text of [national, example.nationalNumber, example.formatInternational(), example.number, example.number.slice(1),
      example.number.replace("+", "00"), national.replace(/[ -]/g, ".")])
      forms.push({ code, country, text, number: example.number });
  }
  const byCode = new Map(forms.map((form) => [form.code, forms.filter((other) => other.code === form.code)]));
  const meant = { alike: 0 };
  for (const [code, list] of byCode) {
    const ours = osier(["number", "--country-code", code], list.map((form) => form.text));
    list.forEach((form, i) => {
      const theirs = phones.parsePhoneNumberFromString(form.text, form.country)?.number;
      const why = isMeant({ ...form, ours: ours[i].number, why: ours[i].why }, theirs) ?? "alike";
      if (why === "alike") {
        assert.equal(ours[i].number, form.number, `${form.text} in ${form.country}: ${ours[i].why}`);
        assert.equal(theirs, form.number, form.text);
      }
      meant[why] = (meant[why] ?? 0) + 1;
    });
  }
  console.log(`numbers by form: ${JSON.stringify(meant)}`);
  assert.ok(meant.alike > 1600 && meant.alike > 20 * (forms.length - meant.alike));
}

// Where osier knows better than the package's lengths of telephones and mobiles, and where it says nothing.
const OWN = new Map([["31", [9, 9]], ["383", [8, 9]], ["972", [8, 9]]]); // longer ones are of machines and services, not of people
const UNSAID = new Set(["352", "358", "381", "39", "43", "49", "62", "82"]); // from five to twelve digits and more

// Any digits after any country's code: refused for their number exactly where the country's plan has none so long or so short.
function compareLengths(count) {
  const codes = lengthsByCode();
  const names = [...codes.keys()];
  const numbers = Array.from({ length: count }, () => {
    const code = pick(names);
    const digits = Array.from({ length: below(11) + 4 }, (_, i) => (i === 0 ? 2 + below(6) : below(10))).join("");
    return { code, digits, text: `+${code}${digits}` };
  });
  const ours = osier(["number"], numbers.map((number) => number.text));
  let refused = 0, unsaid = 0, between = 0;
  numbers.forEach(({ code, digits, text }, i) => {
    const lengths = codes.get(code);
    const [least, most] = OWN.get(code) ?? [Math.min(...lengths), Math.max(...lengths)];
    const whole = code.length + digits.length;
    const inE164 = whole >= 8 && whole <= 15; // E.164 section 6.1; fewer than 8 is osier's own limit
    const fits = UNSAID.has(code) || (digits.length >= least && digits.length <= most);
    const taken = ours[i].number !== null;
    if (taken) assert.equal(ours[i].number, text);
    else assert.match(ours[i].why, /is too (short|long) for a (phone )?number/, text);
    assert.equal(taken, inE164 && fits, `${text}: ${ours[i].why}, ${least} to ${most}`);
    refused += !taken;
    unsaid += taken && UNSAID.has(code);
    between += taken && !lengths.has(digits.length); // a range is kept, not each length in it
  });
  console.log(`numbers by length: ${count} alike, ${refused} refused; ${unsaid} taken where nothing is said of it, ${between} between two lengths`);
}

// Differences of form that are meant.
function isMeant(form, theirs) {
  if (form.why?.startsWith("may be with or without") && form.text === form.number.slice(1)) return "both"; // a person says which
  if (form.code === "54" && /^011[ .]15/.test(form.text) && form.why !== null) return "fifteen"; // 15 stands for a 9 elsewhere
  // 00 is dialled abroad from most countries, not from all; digits without + are national to the package where they can be.
  if (form.ours === form.number && theirs !== form.number && /^(00|\d+$)/.test(form.text)) return "theirs";
  return null;
}

compareSegments(10_000);
compareForms();
compareLengths(10_000);
